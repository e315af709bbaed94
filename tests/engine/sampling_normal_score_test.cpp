#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <vector>

#include "engine/sampling/draws.hpp"
#include "engine/sampling/normal_score.hpp"
#include "tests/support/each_processor.hpp"

using namespace mintspread::sampling;

namespace {
double ulps(double value, double reference) {
  return std::abs(value - reference) / (std::nextafter(std::abs(reference), 1e308) - std::abs(reference));
}
}  // namespace

// Computed for this project with mpmath at 40 digits: root of erfc(-z/sqrt 2)/2 = p for the double nearest to p where p
// is not a power of two; all printed digits kept.
TEST_CASE("normal scores agree with values of mpmath to two units in the last place") {
  CHECK(ulps(normal_score(0.25), -.6744897501960817432) <= 2);
  // As the small tail: the double nearest 0.975 is 1.7 units in the score's last place from 0.975.
  CHECK(ulps(-normal_score(0.025), 1.9599639845400542355) <= 2);
  CHECK(ulps(normal_score(0.001), -3.0902323061678135415) <= 2);
  CHECK(ulps(normal_score(0.00135), -2.9999769927033931276) <= 2);
  CHECK(ulps(normal_score(1e-6), -4.7534243088228989482) <= 2);
  CHECK(ulps(normal_score(1e-9), -5.9978070150076868716) <= 2);
  CHECK(ulps(normal_score(0x1p-32), -6.2302601379890431623) <= 2);
  CHECK(ulps(normal_score(0x1p-64), -9.0801551248736126726) <= 2);
  CHECK(normal_score(1e-20) == Approx(-9.2623400897984075737).epsilon(1e-15));
  CHECK(normal_score(1e-300) == Approx(-37.047096299361199237).epsilon(1e-15));
}

TEST_CASE("normal scores agree with the Boost quantile over the whole range") {
  const boost::math::normal_distribution<long double> normal;
  double worst = 0.0;
  for (double p = 0.4999; p > 1e-300; p *= p > 1e-3 ? 0.999 : 0.9) {
    const auto expected = static_cast<double>(quantile(normal, static_cast<long double>(p)));
    worst = std::max(worst, std::abs(normal_score(p) / expected - 1.0));
  }
  CHECK(worst < 7e-16);  // AS 241 errs by 0.7e-16 in exact arithmetic; the rest is rounding
}

TEST_CASE("normal scores are odd about one half, and say what lies outside") {
  for (double p : {0.5, 0.3125, 0x1p-3, 0x1p-4, 0x1p-20, 0x1p-53}) CHECK(normal_score(1.0 - p) == -normal_score(p));
  CHECK(normal_score(0.0) == -std::numeric_limits<double>::infinity());
  CHECK(normal_score(1.0) == std::numeric_limits<double>::infinity());
  CHECK(std::isnan(normal_score(-0.1)));
  CHECK(std::isnan(normal_score(1.1)));
  CHECK(std::isnan(normal_score(std::numeric_limits<double>::quiet_NaN())));
}

TEST_CASE("normal scores are the same bytes on every processor family, in place and in any length") {
  std::vector<double> u(100003), reference(u.size());
  uniforms(3, 5, 0, 0, u);
  for (std::size_t i = 0; i < 300; ++i) u[7 * i] = std::pow(10.0, -double(i));
  normal_scores(u, reference);
  for_each_processor([&](const char* processor) {
    CAPTURE(processor);
    std::vector<double> scores(u);
    normal_scores(scores, scores);
    CHECK(std::memcmp(scores.data(), reference.data(), u.size() * sizeof(double)) == 0);
  });
  for (std::size_t i = 0; i < 600; ++i) CHECK(normal_score(u[i]) == reference[i]);
}

TEST_CASE("the distribution function undoes the score in the lower tail") {
  for (double p = 0.9; p > 1e-300; p *= 0.1)
    // A relative error of z (7e-16, and 1e-16 of the division by sqrt 2) is magnified by about z^2; erfc adds two
    // units.
    CHECK(normal_cdf(normal_score(p)) == Approx(p).epsilon(8e-16 * std::pow(normal_score(p), 2) + 5e-16));
}
