#include "engine/statistics/response_surface.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <map>
#include <utility>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {

using Complex = std::complex<double>;
using Eigen::Index;

constexpr double slope_weight = 0.5;
constexpr double rows_a_coefficient = 1.2;

/// Degree of the polynomial among so many filled coordinates: readings of thin layers that may be missing converge
/// slowly, and many products need many points.
constexpr int degree_among(std::size_t filled) {
  constexpr std::array<int, 6> degrees{0, 8, 8, 7, 5, 4};
  return filled < degrees.size() ? degrees[filled] : 3;
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

bool finite(Complex z) { return std::isfinite(z.real()) && std::isfinite(z.imag()); }

bool finite(const SurfaceSample& sample) {
  const auto all = [](const std::vector<Complex>& values) {
    return std::ranges::all_of(values, [](Complex z) { return finite(z); });
  };
  return finite(sample.value) && finite(sample.reference) && all(sample.value_slopes) && all(sample.reference_slopes);
}

}  // namespace

SurfaceTerms::SurfaceTerms(std::size_t dimensions, std::span<const std::size_t> cubic,
                           std::span<const std::size_t> filled)
    : dimensions_(dimensions), cubic_(cubic.begin(), cubic.end()), filled_(filled.begin(), filled.end()) {
  expect(std::ranges::is_sorted(cubic_) && (cubic_.empty() || cubic_.back() < dimensions),
         "cubic terms are of coordinates, in rising order");
  expect(std::ranges::is_sorted(filled_) && std::ranges::includes(cubic_, filled_),
         "coordinates with higher terms have cubic ones");
  // A product is known by its coordinates in rising order; what it is without the last one comes before it.
  std::map<std::vector<std::size_t>, std::size_t> position;
  const auto add = [&](std::vector<std::size_t> product) {
    std::vector<std::size_t> of(product.begin(), product.end() - 1);
    terms_.push_back({position.at(of), product.back()});
    position.emplace(std::move(product), terms_.size() - 1);
  };
  terms_.push_back({0, 0});
  position[{}] = 0;
  for (std::size_t i = 0; i < dimensions; ++i) add({i});
  for (std::size_t i = 0; i < dimensions; ++i)
    for (std::size_t j = i; j < dimensions; ++j) add({i, j});
  const auto is_filled = [this](std::size_t i) { return std::ranges::binary_search(filled_, i); };
  // In this order the terms of fewer cubic coordinates are the first ones of more.
  for (int degree = 3; degree <= degree_among(filled_.size()); ++degree)
    for (const auto& [product, at] : std::map(position)) {
      if (product.size() + 1 != static_cast<std::size_t>(degree) || !std::ranges::all_of(product, is_filled)) continue;
      for (const std::size_t i : filled_)
        if (i >= product.back()) {
          auto longer = product;
          longer.push_back(i);
          add(std::move(longer));
        }
    }
  for (std::size_t i = 0; i < cubic_.size(); ++i)
    for (std::size_t j = i; j < cubic_.size(); ++j)
      for (std::size_t k = j; k < cubic_.size(); ++k)
        if (!position.contains({cubic_[i], cubic_[j], cubic_[k]})) add({cubic_[i], cubic_[j], cubic_[k]});
}

void SurfaceTerms::values(std::span<const double> u, std::span<double> out) const {
  out[0] = 1.0;
  for (std::size_t t = 1; t < size(); ++t) out[t] = out[terms_[t].of] * u[terms_[t].by];
}

void SurfaceTerms::slopes(std::span<const double> u, std::size_t by, std::span<double> out) const {
  std::vector<double> value(size());
  values(u, value);
  out[0] = 0.0;
  for (std::size_t t = 1; t < size(); ++t) {
    const auto [of, coordinate] = terms_[t];
    out[t] = out[of] * u[coordinate] + (coordinate == by ? value[of] : 0.0);
  }
}

void SurfaceTerms::values(const Columns& u, std::span<const std::size_t> place, Columns& out) const {
  std::ranges::fill(out[place[0]], 1.0);
  for (std::size_t t = 1; t < size(); ++t) {
    const std::span<const double> of = std::as_const(out)[place[terms_[t].of]], by = u[terms_[t].by];
    const std::span<double> product = out[place[t]];
    for (std::size_t lane = 0; lane < product.size(); ++lane) product[lane] = of[lane] * by[lane];
  }
}

Complex surface_value(SurfaceForm form, Complex sum, Complex reference) {
  switch (form) {
    case SurfaceForm::ratio:
      return sum * reference;
    case SurfaceForm::difference:
      return sum + reference;
    case SurfaceForm::direct:
      break;
  }
  return sum;
}

Complex ResponseSurface::at(const SurfaceTerms& terms, std::span<const double> u, Complex reference,
                            double margin) const {
  const double nan = std::numeric_limits<double>::quiet_NaN();
  if (!std::ranges::all_of(u, [margin](double x) { return std::abs(x) <= 1.0 + margin; })) return {nan, nan};
  std::vector<double> values(terms.size());
  terms.values(u, values);
  Complex sum = 0.0;
  for (std::size_t t = 0; t < values.size(); ++t) sum += values[t] * coefficients[t];
  return surface_value(form, sum, reference);
}

struct SurfaceDesign::Factors {
  std::vector<std::vector<double>> points;
  bool slopes;
  SurfaceTerms terms;
  std::size_t inner;
  std::vector<double> weights;
  struct Part {
    std::vector<std::size_t> points;
    Eigen::HouseholderQR<Eigen::MatrixXd> factor;
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
  Eigen::MatrixXd design(static_cast<Index>(made.points.size() * rows_a_point), static_cast<Index>(terms.size()));
  Index row = 0;
  std::vector<double> values(terms.size());
  const auto write = [&](double weight) {
    for (std::size_t k = 0; k < values.size(); ++k) design(row, static_cast<Index>(k)) = weight * values[k];
    ++row;
  };
  for (const std::size_t i : made.points) {
    terms.values(points[i], values);
    write(weights[i]);
    for (std::size_t by = 0; by + 1 < rows_a_point; ++by) {
      terms.slopes(points[i], by, values);
      write(weights[i] * slope_weight);
    }
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
    write(weights[i] * target(form, samples[i].value, samples[i].reference));
    for (std::size_t by = 0; slopes && by < dimensions(); ++by)
      write(weights[i] * slope_weight * target_slope(form, samples[i], by));
  }
  const Eigen::MatrixXd solved = part.factor.solve(right);
  std::vector<Complex> coefficients;
  for (Index k = 0; k < solved.rows(); ++k) coefficients.emplace_back(solved(k, 0), solved(k, 1));
  return coefficients;
}

Complex SurfaceDesign::Factors::fitted(const std::vector<Complex>& coefficients, std::size_t point) const {
  std::vector<double> values(terms.size());
  terms.values(points[point], values);
  Complex sum = 0.0;
  for (std::size_t k = 0; k < values.size(); ++k) sum += values[k] * coefficients[k];
  return sum;
}

std::size_t SurfaceDesign::fewest_points(const SurfaceTerms& terms, Slopes slopes) {
  const auto dimensions = static_cast<double>(terms.dimensions());
  const double rows = slopes == Slopes::with ? 1.0 + dimensions : 1.0;
  const double points = rows_a_coefficient * static_cast<double>(terms.size()) / rows;
  // Three points along each coordinate at least, and more than a fold in what is left.
  const double least = std::max(points, 3.0 + dimensions);
  return static_cast<std::size_t>(std::ceil(least * folds / (folds - 1.0))) + 1;
}

SurfaceDesign::SurfaceDesign(std::vector<std::vector<double>> points, Slopes slopes, SurfaceTerms terms,
                             std::size_t inner, std::vector<double> weights) {
  expect(!points.empty() && !points.front().empty(), "a response surface has points and coordinates");
  for (const auto& point : points)
    expect(point.size() == terms.dimensions(), "all support points have the coordinates of the terms");
  expect(points.size() >= fewest_points(terms, slopes), "a response surface has enough support points");
  expect(inner <= points.size(), "inner points are some of the points");
  if (inner == 0) inner = points.size();
  if (weights.empty()) weights.assign(points.size(), 1.0);
  expect(weights.size() == points.size(), "a weight for every point or for none");
  auto made = std::make_unique<Factors>(
      Factors{std::move(points), slopes == Slopes::with, std::move(terms), inner, std::move(weights), {}});
  made->parts.push_back(made->part(folds));
  for (std::size_t fold = 0; fold < folds; ++fold) made->parts.push_back(made->part(fold));
  factors_ = std::move(made);
}

SurfaceDesign::~SurfaceDesign() = default;
SurfaceDesign::SurfaceDesign(SurfaceDesign&&) noexcept = default;
SurfaceDesign& SurfaceDesign::operator=(SurfaceDesign&&) noexcept = default;

const SurfaceTerms& SurfaceDesign::terms() const { return factors_->terms; }

ResponseSurface SurfaceDesign::fit(std::span<const SurfaceSample> samples) const {
  const Factors& f = *factors_;
  expect(samples.size() == f.points.size(), "one sample a support point");
  ResponseSurface best;
  best.support_points = samples.size();
  best.held_out_rms = std::numeric_limits<double>::infinity();
  if (!std::ranges::all_of(samples, [](const SurfaceSample& sample) { return finite(sample); })) {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    best.coefficients.assign(f.terms.size(), Complex(nan, nan));
    best.held_out_rms = best.held_out_worst = best.held_out_real = best.held_out_imag = nan;
    return best;
  }
  for (const auto& sample : samples)
    expect(
        !f.slopes || (sample.value_slopes.size() == f.dimensions() && sample.reference_slopes.size() == f.dimensions()),
        "a sample has a slope along each coordinate");
  for (const SurfaceForm form : {SurfaceForm::ratio, SurfaceForm::difference, SurfaceForm::direct}) {
    double real = 0.0, imag = 0.0, worst = 0.0;
    for (std::size_t fold = 0; fold < folds; ++fold) {
      const auto coefficients = f.solve(f.parts[fold + 1], form, samples);
      for (std::size_t i = fold; i < samples.size(); i += folds) {
        const Complex off = surface_value(form, f.fitted(coefficients, i), samples[i].reference) - samples[i].value;
        worst = std::max(worst, std::abs(off));
        if (i >= f.inner) continue;
        real += off.real() * off.real();
        imag += off.imag() * off.imag();
      }
    }
    const auto count = static_cast<double>(f.inner);
    const double rms = std::sqrt((real + imag) / count);
    // A ratio to a reference that passes zero is not finite somewhere: such a form loses.
    if (!(rms < best.held_out_rms)) continue;
    best.form = form;
    best.held_out_rms = rms;
    best.held_out_worst = worst;
    best.held_out_real = std::sqrt(real / count);
    best.held_out_imag = std::sqrt(imag / count);
  }
  best.coefficients = f.solve(f.parts.front(), best.form, samples);
  return best;
}

}  // namespace mintspread::statistics
