#include "engine/statistics/tolerance.hpp"

#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/roots.hpp>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {

void expect_statement(double coverage, double confidence) {
  expect(coverage > 0.0 && coverage < 1.0 && confidence > 0.0 && confidence < 1.0,
         "coverage and confidence lie between 0 and 1");
}

/// Half-width of the interval about `offset` that holds `coverage` of a standard normal.
double half_width_about(double offset, double coverage) {
  const boost::math::normal unit;
  const auto excess = [&](double r) { return cdf(unit, offset + r) - cdf(unit, offset - r) - coverage; };
  double upper = offset + quantile(unit, 0.5 + 0.5 * coverage) + 1.0;
  std::uintmax_t steps = 200;
  const auto [a, b] =
      boost::math::tools::toms748_solve(excess, 0.0, upper, boost::math::tools::eps_tolerance<double>(50), steps);
  return 0.5 * (a + b);
}

/// Smallest n >= first for which a condition that stays true once it is holds.
template <class Holds>
std::uint64_t smallest(std::uint64_t first, Holds holds) {
  std::uint64_t upper = first;
  while (!holds(upper)) upper *= 2;
  std::uint64_t lower = first;
  while (lower < upper) {
    const std::uint64_t middle = lower + (upper - lower) / 2;
    if (holds(middle))
      upper = middle;
    else
      lower = middle + 1;
  }
  return lower;
}

}  // namespace

double one_sided_factor(std::uint64_t n, double coverage, double confidence) {
  expect_statement(coverage, confidence);
  expect(n >= 2, "a standard deviation needs two values");
  const double root = std::sqrt(static_cast<double>(n));
  const double shift = root * quantile(boost::math::normal(), coverage);
  return quantile(boost::math::non_central_t(static_cast<double>(n - 1), shift), confidence) / root;
}

double two_sided_factor(std::uint64_t n, double coverage, double confidence) {
  expect_statement(coverage, confidence);
  expect(n >= 2, "a standard deviation needs two values");
  const double f = static_cast<double>(n - 1), root = std::sqrt(static_cast<double>(n));
  const boost::math::chi_squared squares(f);
  const boost::math::normal unit;
  // Given the sample's mean, off by z / sqrt n, the interval suffices when the sample's sd is large enough.
  const auto achieved = [&](double k) {
    const auto given_mean = [&](double z) {
      const double r = half_width_about(z / root, coverage) / k;
      return pdf(unit, z) * cdf(complement(squares, f * r * r));
    };
    return 2.0 * boost::math::quadrature::gauss_kronrod<double, 31>::integrate(given_mean, 0.0, 9.0, 6, 1e-13);
  };
  const double least = quantile(unit, 0.5 + 0.5 * coverage);
  double upper = 2.0 * least;
  while (achieved(upper) < confidence) upper *= 2.0;
  std::uintmax_t steps = 100;
  const auto [a, b] = boost::math::tools::toms748_solve([&](double k) { return achieved(k) - confidence; }, 0.3 * least,
                                                        upper, boost::math::tools::eps_tolerance<double>(38), steps);
  return 0.5 * (a + b);
}

double coverage_of_largest(std::uint64_t n, double confidence) {
  expect(n >= 1 && confidence > 0.0 && confidence < 1.0, "a sample and a confidence");
  return std::exp(std::log1p(-confidence) / static_cast<double>(n));
}

double coverage_of_range(std::uint64_t n, double confidence) {
  expect(n >= 2 && confidence > 0.0 && confidence < 1.0, "a range and a confidence");
  // The part between the extremes has a beta distribution with parameters n - 1 and 2.
  return quantile(boost::math::beta_distribution<>(static_cast<double>(n - 1), 2.0), 1.0 - confidence);
}

std::uint64_t values_for_coverage(double coverage, double confidence, std::uint64_t s) {
  expect_statement(coverage, confidence);
  expect(s >= 1, "ranks count from 1");
  return smallest(s, [&](std::uint64_t n) {
    const boost::math::beta_distribution<> below(static_cast<double>(n - s + 1), static_cast<double>(s));
    return cdf(complement(below, coverage)) >= confidence;
  });
}

std::uint64_t values_for_range(double coverage, double confidence) {
  expect_statement(coverage, confidence);
  return smallest(2, [&](std::uint64_t n) { return coverage_of_range(n, confidence) >= coverage; });
}

}  // namespace mintspread::statistics
