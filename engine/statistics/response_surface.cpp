#include "engine/statistics/response_surface.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {

using Complex = std::complex<double>;
using Eigen::Index;

constexpr double slope_weight = 0.5;
constexpr double rows_a_coefficient = 1.2;

std::vector<double> monomials(std::span<const double> u) {
  std::vector<double> terms{1.0};
  terms.insert(terms.end(), u.begin(), u.end());
  for (std::size_t i = 0; i < u.size(); ++i)
    for (std::size_t j = i; j < u.size(); ++j) terms.push_back(u[i] * u[j]);
  return terms;
}

/// Of all monomials, by one coordinate.
std::vector<double> slopes_of_monomials(std::span<const double> u, std::size_t by) {
  std::vector<double> terms{0.0};
  for (std::size_t i = 0; i < u.size(); ++i) terms.push_back(i == by ? 1.0 : 0.0);
  for (std::size_t i = 0; i < u.size(); ++i)
    for (std::size_t j = i; j < u.size(); ++j) terms.push_back((i == by ? u[j] : 0.0) + (j == by ? u[i] : 0.0));
  return terms;
}

Complex target(SurfaceForm form, Complex value, Complex reference) {
  switch (form) {
    case SurfaceForm::ratio:
      return value / reference;
    case SurfaceForm::difference:
      return value - reference;
    case SurfaceForm::direct:
      break;
  }
  return value;
}

Complex target_slope(SurfaceForm form, const SurfaceSample& sample, std::size_t by) {
  switch (form) {
    case SurfaceForm::ratio:
      return (sample.value_slopes[by] - sample.value / sample.reference * sample.reference_slopes[by]) /
             sample.reference;
    case SurfaceForm::difference:
      return sample.value_slopes[by] - sample.reference_slopes[by];
    case SurfaceForm::direct:
      break;
  }
  return sample.value_slopes[by];
}

Complex undo(SurfaceForm form, Complex fitted, Complex reference) {
  switch (form) {
    case SurfaceForm::ratio:
      return fitted * reference;
    case SurfaceForm::difference:
      return fitted + reference;
    case SurfaceForm::direct:
      break;
  }
  return fitted;
}

bool finite(Complex z) { return std::isfinite(z.real()) && std::isfinite(z.imag()); }

bool finite(const SurfaceSample& sample) {
  const auto all = [](const std::vector<Complex>& values) {
    return std::ranges::all_of(values, [](Complex z) { return finite(z); });
  };
  return finite(sample.value) && finite(sample.reference) && all(sample.value_slopes) && all(sample.reference_slopes);
}

}  // namespace

std::size_t surface_coefficients(std::size_t dimensions) { return (dimensions + 1) * (dimensions + 2) / 2; }

Complex ResponseSurface::at(std::span<const double> u, Complex reference, double margin) const {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  if (!std::ranges::all_of(u, [margin](double x) { return std::abs(x) <= 1.0 + margin; })) return {nan, nan};
  const Complex* next = coefficients.data();
  Complex sum = *next++;
  for (const double x : u) sum += x * *next++;
  for (std::size_t i = 0; i < u.size(); ++i)
    for (std::size_t j = i; j < u.size(); ++j) sum += u[i] * u[j] * *next++;
  return undo(form, sum, reference);
}

struct SurfaceDesign::Factors {
  std::vector<std::vector<double>> points;
  bool slopes;
  struct Part {
    std::vector<std::size_t> points;
    Eigen::ColPivHouseholderQR<Eigen::MatrixXd> factor;
  };
  std::vector<Part> parts;  ///< all points, then all but one fold each

  std::size_t dimensions() const { return points.front().size(); }
  Part part(std::size_t left_out) const;
  std::vector<Complex> solve(const Part& part, SurfaceForm form, std::span<const SurfaceSample> samples) const;
  Complex fitted(const std::vector<Complex>& coefficients, std::size_t point) const;
};

/// The problem without the points of one fold; `folds` leaves out none.
SurfaceDesign::Factors::Part SurfaceDesign::Factors::part(std::size_t left_out) const {
  Part made;
  for (std::size_t i = 0; i < points.size(); ++i)
    if (i % folds != left_out) made.points.push_back(i);
  const std::size_t rows_a_point = slopes ? 1 + dimensions() : 1;
  Eigen::MatrixXd design(static_cast<Index>(made.points.size() * rows_a_point),
                         static_cast<Index>(surface_coefficients(dimensions())));
  Index row = 0;
  const auto write = [&](const std::vector<double>& terms, double weight) {
    for (std::size_t k = 0; k < terms.size(); ++k) design(row, static_cast<Index>(k)) = weight * terms[k];
    ++row;
  };
  for (const std::size_t i : made.points) {
    write(monomials(points[i]), 1.0);
    for (std::size_t by = 0; by + 1 < rows_a_point; ++by) write(slopes_of_monomials(points[i], by), slope_weight);
  }
  made.factor.compute(design);
  return made;
}

std::vector<Complex> SurfaceDesign::Factors::solve(const Part& part, SurfaceForm form,
                                                   std::span<const SurfaceSample> samples) const {
  Eigen::MatrixXd right(part.factor.rows(), 2);
  Index row = 0;
  const auto write = [&](Complex value) {
    right(row, 0) = value.real();
    right(row, 1) = value.imag();
    ++row;
  };
  for (const std::size_t i : part.points) {
    write(target(form, samples[i].value, samples[i].reference));
    for (std::size_t by = 0; slopes && by < dimensions(); ++by)
      write(slope_weight * target_slope(form, samples[i], by));
  }
  const Eigen::MatrixXd solved = part.factor.solve(right);
  std::vector<Complex> coefficients;
  for (Index k = 0; k < solved.rows(); ++k) coefficients.emplace_back(solved(k, 0), solved(k, 1));
  return coefficients;
}

Complex SurfaceDesign::Factors::fitted(const std::vector<Complex>& coefficients, std::size_t point) const {
  const auto terms = monomials(points[point]);
  Complex sum = 0.0;
  for (std::size_t k = 0; k < terms.size(); ++k) sum += terms[k] * coefficients[k];
  return sum;
}

std::size_t SurfaceDesign::fewest_points(std::size_t dimensions, Slopes slopes) {
  const double rows = slopes == Slopes::with ? 1.0 + static_cast<double>(dimensions) : 1.0;
  const double points = rows_a_coefficient * static_cast<double>(surface_coefficients(dimensions)) / rows;
  // Three points along each coordinate at least, and more than a fold in what is left.
  const double least = std::max(points, 3.0 + static_cast<double>(dimensions));
  return static_cast<std::size_t>(std::ceil(least * folds / (folds - 1.0))) + 1;
}

SurfaceDesign::SurfaceDesign(std::vector<std::vector<double>> points, Slopes slopes) {
  expect(!points.empty() && !points.front().empty(), "a response surface has points and coordinates");
  for (const auto& point : points)
    expect(point.size() == points.front().size(), "all support points have the same coordinates");
  expect(points.size() >= fewest_points(points.front().size(), slopes), "a response surface has enough support points");
  auto made = std::make_unique<Factors>(Factors{std::move(points), slopes == Slopes::with, {}});
  made->parts.push_back(made->part(folds));
  for (std::size_t fold = 0; fold < folds; ++fold) made->parts.push_back(made->part(fold));
  factors_ = std::move(made);
}

SurfaceDesign::~SurfaceDesign() = default;
SurfaceDesign::SurfaceDesign(SurfaceDesign&&) noexcept = default;
SurfaceDesign& SurfaceDesign::operator=(SurfaceDesign&&) noexcept = default;

ResponseSurface SurfaceDesign::fit(std::span<const SurfaceSample> samples) const {
  const Factors& f = *factors_;
  expect(samples.size() == f.points.size(), "one sample a support point");
  ResponseSurface best;
  best.support_points = samples.size();
  best.held_out_rms = std::numeric_limits<double>::infinity();
  if (!std::ranges::all_of(samples, [](const SurfaceSample& sample) { return finite(sample); })) {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    best.coefficients.assign(surface_coefficients(f.dimensions()), Complex(nan, nan));
    best.held_out_rms = best.held_out_worst = nan;
    return best;
  }
  for (const auto& sample : samples)
    expect(
        !f.slopes || (sample.value_slopes.size() == f.dimensions() && sample.reference_slopes.size() == f.dimensions()),
        "a sample has a slope along each coordinate");
  for (const SurfaceForm form : {SurfaceForm::ratio, SurfaceForm::difference, SurfaceForm::direct}) {
    double sum = 0.0, worst = 0.0;
    for (std::size_t fold = 0; fold < folds; ++fold) {
      const auto coefficients = f.solve(f.parts[fold + 1], form, samples);
      for (std::size_t i = fold; i < samples.size(); i += folds) {
        const Complex found = undo(form, f.fitted(coefficients, i), samples[i].reference);
        sum += std::norm(found - samples[i].value);
        worst = std::max(worst, std::abs(found - samples[i].value));
      }
    }
    const double rms = std::sqrt(sum / static_cast<double>(samples.size()));
    // A ratio to a reference that passes zero is not finite somewhere: such a form loses.
    if (!(rms < best.held_out_rms)) continue;
    best.form = form;
    best.held_out_rms = rms;
    best.held_out_worst = worst;
  }
  best.coefficients = f.solve(f.parts.front(), best.form, samples);
  return best;
}

}  // namespace mintspread::statistics
