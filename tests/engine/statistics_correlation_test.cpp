#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "engine/statistics/correlation.hpp"

using namespace mintspread;
using statistics::PairMoments;

namespace {

// F. J. Anscombe, Am. Stat. 27, 17 (1973), the first of the four data sets, from memory; so is r = 0.816, which all
// four share to three digits.
const std::vector<double> x{10, 8, 13, 9, 11, 14, 6, 4, 12, 7, 5};
const std::vector<double> y{8.04, 6.95, 7.58, 8.81, 8.33, 9.96, 7.24, 4.26, 10.84, 4.82, 5.68};

}  // namespace

TEST_CASE("the correlation of a published data set is the published one, in any units") {
  PairMoments pair;
  pair.add(x, y);
  CHECK(pair.count() == 11);
  CHECK(std::abs(pair.correlation() - 0.816) < 0.0005);
  std::vector<double> far(x);
  for (double& value : far) value = 1e6 - 1e-3 * value;
  PairMoments turned;
  turned.add(far, y);
  CHECK(turned.correlation() == Approx(-pair.correlation()).epsilon(1e-9));
}

TEST_CASE("pairs may be taken in parts") {
  PairMoments whole, parts;
  whole.add(x, y);
  for (std::size_t from = 0; from < x.size(); from += 3) {
    const std::size_t n = std::min<std::size_t>(3, x.size() - from);
    PairMoments part;
    part.add(std::span(x).subspan(from, n), std::span(y).subspan(from, n));
    parts.merge(part);
  }
  CHECK(parts.count() == whole.count());
  CHECK(parts.correlation() == Approx(whole.correlation()).epsilon(1e-14));
}

TEST_CASE("what does not vary has no correlation, what is the same has 1") {
  PairMoments constant, same;
  constant.add(x, std::vector<double>(x.size(), 2.0));
  CHECK(std::isnan(constant.correlation()));
  CHECK(std::isnan(PairMoments().correlation()));
  same.add(x, x);
  CHECK(same.correlation() == Approx(1.0).epsilon(1e-15));
  CHECK(statistics::correlation_interval(1.0, 11, 0.95).lower == 1.0);
}

TEST_CASE("the interval of a correlation covers the true one as often as it says, and half of it does not") {
  constexpr double rho = 0.7;
  constexpr std::size_t pairs = 40, trials = 20000;
  std::mt19937_64 generator(7);
  std::normal_distribution<double> normal;
  std::size_t covered = 0, covered_by_half = 0;
  std::vector<double> a(pairs), b(pairs);
  for (std::size_t t = 0; t < trials; ++t) {
    for (std::size_t i = 0; i < pairs; ++i) {
      a[i] = normal(generator);
      b[i] = rho * a[i] + std::sqrt(1.0 - rho * rho) * normal(generator);
    }
    PairMoments pair;
    pair.add(a, b);
    const double r = pair.correlation();
    const auto interval = statistics::correlation_interval(r, pairs, 0.95);
    covered += interval.lower <= rho && rho <= interval.upper;
    covered_by_half += 0.5 * (interval.lower + r) <= rho && rho <= 0.5 * (interval.upper + r);
  }
  // Five standard errors of a proportion of 0.95, and half a per cent for Fisher's approximation at 40 pairs.
  const double room = 5.0 * std::sqrt(0.95 * 0.05 / trials) + 0.005;
  CHECK(std::abs(static_cast<double>(covered) / trials - 0.95) < room);
  CHECK(static_cast<double>(covered_by_half) / trials < 0.95 - room);
}
