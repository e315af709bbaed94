#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <limits>
#include <vector>

#include "engine/sampling/sobol.hpp"
#include "engine/statistics/response_surface.hpp"

// A response surface against functions known exactly.

namespace {

using namespace mintspread;
using namespace mintspread::statistics;
using Complex = std::complex<double>;
using Point = std::vector<double>;

/// The first points of the net in [-1, 1]^d, one scramble.
std::vector<Point> net(std::size_t count, std::size_t dimensions, std::uint64_t seed = 1) {
  const sampling::SobolPoints sobol(dimensions);
  std::vector<Point> points(count, Point(dimensions));
  for (std::size_t d = 0; d < dimensions; ++d) {
    std::vector<double> column(count);
    sobol.uniforms(sampling::scramble_key(seed, d, 0, 0), d, 0, column);
    for (std::size_t i = 0; i < count; ++i) points[i][d] = 2.0 * column[i] - 1.0;
  }
  return points;
}

const SurfaceTerms terms(3);

using Function = std::function<Complex(const Point&)>;

std::vector<SurfaceSample> samples(const std::vector<Point>& points, const Function& value, const Function& reference) {
  std::vector<SurfaceSample> all;
  for (const Point& u : points) {
    SurfaceSample sample{value(u), reference(u), {}, {}};
    for (std::size_t d = 0; d < u.size(); ++d) {
      Point up = u, down = u;
      up[d] += 1e-5;
      down[d] -= 1e-5;
      sample.value_slopes.push_back((value(up) - value(down)) / 2e-5);
      sample.reference_slopes.push_back((reference(up) - reference(down)) / 2e-5);
    }
    all.push_back(std::move(sample));
  }
  return all;
}

Complex quadratic(const Point& u) {
  return Complex(1.2, 0.3) + Complex(0.2, -0.1) * u[0] - 0.05 * u[1] + Complex(0.0, 0.04) * u[0] * u[1] +
         0.03 * u[2] * u[2];
}
Complex reference_value(const Point& u) { return std::exp(Complex(0.3 * u[0], 0.5 * u[1] - 0.2 * u[2])); }

/// Root mean square of the error at fresh points.
double true_error(const ResponseSurface& surface, const Function& value, const Function& reference) {
  double sum = 0.0;
  const auto fresh = net(512, 3, 77);
  for (const Point& u : fresh) sum += std::norm(surface.at(terms, u, reference(u)) - value(u));
  return std::sqrt(sum / 512.0);
}

}  // namespace

TEST_CASE("A response surface finds the form in which a function is quadratic", "[surface]") {
  for (const auto slopes : {SurfaceDesign::Slopes::without, SurfaceDesign::Slopes::with}) {
    const auto points = net(SurfaceDesign::fewest_points(terms, slopes), 3);
    const SurfaceDesign design(points, slopes, terms);
    const auto check = [&](const Function& value, SurfaceForm form) {
      const auto surface = design.fit(samples(points, value, reference_value));
      CHECK(surface.form == form);
      CHECK(true_error(surface, value, reference_value) < 1e-9);
      CHECK(surface.held_out_worst < 1e-8);
    };
    check([](const Point& u) { return quadratic(u) * reference_value(u); }, SurfaceForm::ratio);
    check([](const Point& u) { return quadratic(u) + reference_value(u); }, SurfaceForm::difference);
    check(quadratic, SurfaceForm::direct);
  }
}

TEST_CASE("A reference of no meaning is not used", "[surface]") {
  // Noise of ten orders of magnitude too little, as the planar model through a steel coin, and one that passes zero.
  const auto points = net(40, 3);
  const SurfaceDesign design(points, SurfaceDesign::Slopes::without, terms);
  const Function tiny = [](const Point& u) { return 1e-10 * std::exp(Complex(9.0 * u[0], 30.0 * u[1])); };
  const Function crossing = [](const Point& u) { return Complex(u[0], 0.0); };
  CHECK(design.fit(samples(points, quadratic, tiny)).form != SurfaceForm::ratio);
  CHECK(design.fit(samples(points, quadratic, crossing)).form != SurfaceForm::ratio);
}

TEST_CASE("The held-out error of a response surface is that at fresh points", "[surface]") {
  const Function value = [](const Point& u) {
    return quadratic(u) * reference_value(u) + 0.01 * std::sin(2.0 * u[0] + u[2]) * std::exp(u[1]);
  };
  for (const auto slopes : {SurfaceDesign::Slopes::without, SurfaceDesign::Slopes::with}) {
    const auto points = net(64, 3);
    const auto surface = SurfaceDesign(points, slopes, terms).fit(samples(points, value, reference_value));
    const double error = true_error(surface, value, reference_value);
    INFO(surface.held_out_rms << " stated, " << error << " true");
    // 64 held-out points against 512 fresh ones: the root mean square of 64 smooth errors is within a factor of 1.5.
    CHECK(error < 1.5 * surface.held_out_rms);
    CHECK(error > surface.held_out_rms / 2.5);
    CHECK(surface.held_out_worst > surface.held_out_rms);
  }
}

TEST_CASE("Cubic terms carry what a quadratic cannot", "[surface]") {
  // Known exactly: u0^2 u2 and u2^3 bend the first and last coordinate alone.
  const Function value = [](const Point& u) {
    return quadratic(u) + 0.2 * u[0] * u[0] * u[2] - Complex(0.0, 0.1) * u[2] * u[2] * u[2];
  };
  const auto points = net(40, 3);
  const std::size_t cubic[] = {0, 2};
  const SurfaceTerms more(3, cubic);
  CHECK(more.size() == 10 + 4);
  const auto all = samples(points, value, reference_value);
  const auto plain = SurfaceDesign(points, SurfaceDesign::Slopes::with, terms).fit(all);
  const auto bent = SurfaceDesign(points, SurfaceDesign::Slopes::with, more).fit(all);
  CHECK(plain.held_out_rms > 1e-3);
  CHECK(bent.held_out_worst < 1e-8);
  CHECK(bent.form == SurfaceForm::direct);
  const Point u{0.3, -0.6, 0.8};
  CHECK(std::abs(bent.at(more, u, 1.0) - value(u)) < 1e-8);
  // Many points at once are the same points.
  Columns coordinates(3, 8), products(more.size(), 8);
  for (std::size_t d = 0; d < 3; ++d) std::ranges::fill(coordinates[d], u[d]);
  std::vector<std::size_t> place(more.size());
  for (std::size_t t = 0; t < place.size(); ++t) place[t] = place.size() - 1 - t;
  more.values(coordinates, place, products);
  std::vector<double> one(more.size());
  more.values(u, one);
  for (std::size_t t = 0; t < one.size(); ++t) CHECK(products[place[t]][5] == one[t]);
}

TEST_CASE("A coordinate that is filled takes a polynomial of the eighth degree", "[surface]") {
  // The eighth degree of sin(3 u) on [-1, 1] is off by the ninth power's part, 3^9 / 9! / 2^8 = 2e-4 at most.
  const Function value = [](const Point& u) { return Complex(std::sin(3.0 * u[0]), 0.1 * u[0] * u[1]); };
  const Function one = [](const Point&) { return Complex(1.0); };
  const std::size_t first[] = {0};
  const SurfaceTerms cubic(3, first), filled(3, first, first);
  CHECK(filled.size() == cubic.size() + 5);
  const auto points = net(40, 3);
  const auto all = samples(points, value, one);
  const auto rough = SurfaceDesign(points, SurfaceDesign::Slopes::with, cubic).fit(all);
  const auto smooth = SurfaceDesign(points, SurfaceDesign::Slopes::with, filled).fit(all);
  CHECK(rough.held_out_rms > 1e-2);
  CHECK(smooth.held_out_worst < 1e-3);
  const Point u{-0.7, 0.2, 0.9};
  CHECK(std::abs(smooth.at(filled, u, 1.0) - value(u)) < 2e-4);
}

TEST_CASE("Among two filled coordinates all products count, and terms of fewer cubic ones come first", "[surface]") {
  const std::size_t filled[] = {0, 2}, cubic[] = {0, 1, 2};
  const SurfaceTerms few(3, filled, filled), more(3, cubic, filled);
  // Products of degree 3 to 8 of two coordinates: (3 + 1) + ... + (8 + 1); of three of degree 3 there are 10.
  CHECK(few.size() == 10 + 39);
  CHECK(more.size() == few.size() + 10 - 4);
  const Point u{0.3, -0.6, 0.8};
  std::vector<double> a(few.size()), b(more.size());
  few.values(u, a);
  more.values(u, b);
  for (std::size_t t = 0; t < a.size(); ++t) CHECK(a[t] == b[t]);
  CHECK(std::ranges::any_of(a, [](double x) { return x == Approx(std::pow(0.3, 3.0) * std::pow(0.8, 5.0)); }));
}

TEST_CASE("Points that count less bend the surface less", "[surface]") {
  // A quadratic and a far wall: with the outer points at a hundredth the inner ones are met a hundred times better.
  const Function value = [](const Point& u) {
    const double square = u[0] * u[0] + u[1] * u[1] + u[2] * u[2];
    return quadratic(u) + 0.1 * std::pow(square, 4.0);
  };
  const Function one = [](const Point&) { return Complex(1.0); };
  auto points = net(60, 3);
  std::vector<double> weights(points.size(), 1.0);
  for (std::size_t i = 0; i < 30; ++i)
    for (double& x : points[i]) x *= 0.2;
  for (std::size_t i = 30; i < 60; ++i) weights[i] = 0.01;
  const auto all = samples(points, value, one);
  const auto even = SurfaceDesign(points, SurfaceDesign::Slopes::with, terms, 30).fit(all);
  const auto fading = SurfaceDesign(points, SurfaceDesign::Slopes::with, terms, 30, weights).fit(all);
  CHECK(fading.held_out_rms < 0.02 * even.held_out_rms);
}

TEST_CASE("Slopes stand in for points", "[surface]") {
  CHECK(SurfaceDesign::fewest_points(SurfaceTerms(12), SurfaceDesign::Slopes::without) == 138);
  CHECK(SurfaceDesign::fewest_points(SurfaceTerms(12), SurfaceDesign::Slopes::with) < 25);
}

TEST_CASE("A response surface is silent outside its box and after a failed solution", "[surface]") {
  const auto points = net(40, 3);
  const SurfaceDesign design(points, SurfaceDesign::Slopes::without, terms);
  auto all = samples(points, quadratic, reference_value);
  const auto surface = design.fit(all);
  CHECK(std::isnan(surface.at(terms, Point{0.0, 1.01, 0.0}, 1.0).real()));
  CHECK_FALSE(std::isnan(surface.at(terms, Point{0.0, 1.01, 0.0}, 1.0, 0.1).real()));
  CHECK(std::isnan(surface.at(terms, Point{0.0, std::nan(""), 0.0}, 1.0).real()));
  all[7].value = std::numeric_limits<double>::quiet_NaN();
  const auto failed = design.fit(all);
  CHECK(std::isnan(failed.at(terms, Point{0.0, 0.0, 0.0}, 1.0).real()));
  CHECK(std::isnan(failed.held_out_rms));
}
