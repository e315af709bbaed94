#include <boost/math/distributions/chi_squared.hpp>
#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/measured/gauge_error.hpp"

using namespace mintspread;
using namespace mintspread::measured;

TEST_CASE("a gauge of 3 on pieces of 4 reads 5, and 5 gives back 4") {
  CHECK(true_spread(25.0, 9.0).variance == Approx(16.0));
  CHECK(*shrinkage(25.0, 9.0) == Approx(0.8));
  CHECK(true_spread(9.0, 10.0).variance == Approx(-1.0));  // shown as such
  CHECK_FALSE(shrinkage(9.0, 10.0));
}

TEST_CASE("the interval of what a gauge leaves has the uncertainty of both variances") {
  // Without degrees of freedom the gauge's variance moves the interval and no more; below none there is nothing.
  const auto moved = interval_left(25.0, {18.0, 37.0}, std::vector<ErrorPart>{{9.0, 0.0}}, 0.95);
  CHECK(moved.lower == Approx(9.0));
  CHECK(moved.upper == Approx(28.0));
  CHECK(interval_left(25.0, {18.0, 37.0}, std::vector<ErrorPart>{{20.0, 0.0}}, 0.95).lower == 0.0);
  // By hand, chi squared with 9 degrees of freedom at 0.025 and 0.975 being 2.70039 and 19.02277: 9 lies in 4.25802 ..
  // 29.99567; 16 - sqrt(7^2 + 20.99567^2) is below none, 16 + sqrt(12^2 + 4.74198^2).
  const auto both = interval_left(25.0, {18.0, 37.0}, std::vector<ErrorPart>{{9.0, 9.0}}, 0.95);
  CHECK(both.lower == 0.0);
  CHECK(both.upper == Approx(16.0 + std::hypot(12.0, 4.74198)).margin(1e-4));
  // Two parts add their squares: of 1 each, 3.33285 above and 0.47311 below at 9 degrees of freedom.
  const auto two = interval_left(25.0, {18.0, 37.0}, std::vector<ErrorPart>{{1.0, 9.0}, {1.0, 9.0}}, 0.95);
  CHECK(two.lower == Approx(23.0 - std::sqrt(49.0 + 2 * 2.33285 * 2.33285)).margin(1e-4));
  CHECK(two.upper == Approx(23.0 + std::sqrt(144.0 + 2 * 0.52689 * 0.52689)).margin(1e-4));
}

TEST_CASE(
    "the interval of what a gauge leaves holds the truth as often as stated, which a gauge taken as known does not",
    "[slow]") {
  // Readings of variance 25 over 60 pieces, a gauge of variance 9 found from few readings; of 4000 samples 95 % to
  // four standard errors, 1.4 %, and a per cent for the method, whose coverage is not exact.
  boost::random::mt19937_64 generator(5);
  for (const double freedom : {4.0, 11.0}) {
    boost::random::chi_squared_distribution<double> of_readings(59.0), of_gauge(freedom);
    const boost::math::chi_squared law(59.0);
    constexpr int samples = 4000;
    int held = 0, held_as_known = 0;
    for (int i = 0; i < samples; ++i) {
      const double read = 25.0 * of_readings(generator) / 59.0, error = 9.0 * of_gauge(generator) / freedom;
      const Range bounds{59.0 * read / quantile(law, 0.975), 59.0 * read / quantile(law, 0.025)};
      const auto holds = [&](double f) {
        const auto found = interval_left(read, bounds, std::vector<ErrorPart>{{error, f}}, 0.95);
        return found.lower <= 16.0 && 16.0 <= found.upper ? 1 : 0;
      };
      held += holds(freedom);
      held_as_known += holds(0.0);
    }
    INFO("of " << samples << ": " << held << ", as known " << held_as_known);
    CHECK(std::abs(held - 0.95 * samples) < 0.024 * samples);
    CHECK(held_as_known < 0.90 * samples);
  }
}

TEST_CASE("a proportional bias scales the error with the reading") {
  // y = 1.25 x + 2 + e, sd of e 0.5: x = (y - 2) / 1.25, with an error of 0.4.
  const GaugeError gauge{2.0, 0.25, 0.5};
  CHECK(gauge.corrected(27.0) == Approx(20.0));
  CHECK(gauge.error_sd() == Approx(0.4));
}

TEST_CASE("every shape without the error has the mean it had and the variance that is left") {
  const Placed shapes[] = {{18.0, sampling::Normal{0.5}},
                           {18.0, sampling::TwoPieceNormal{0.4, 1.1}},
                           {18.0, sampling::Lognormal{18.0, 0.2}},
                           {18.0, sampling::Triangular{-1.0, 0.0, 2.0}},
                           {18.0, sampling::TruncatedNormal{1.0, -0.6, 1.4}},
                           {17.6, std::make_shared<const sampling::Mixture>(sampling::Mixture{
                                      {{0.6, -0.8, sampling::Normal{0.4}}, {0.4, 1.2, sampling::Normal{0.5}}}})}};
  for (const Placed& shape : shapes) {
    CAPTURE(shape.deviation.index());
    const Curve before(shape);
    const auto cleared = without_error(shape, 0.09);
    REQUIRE(cleared);
    const Curve after(*cleared);
    CHECK(after.mean() == Approx(before.mean()).epsilon(1e-9));
    CHECK(after.sd() * after.sd() == Approx(before.sd() * before.sd() - 0.09).epsilon(1e-9));
  }
  // Exact for a normal, and for a mixture of normals part by part.
  CHECK(std::get<sampling::Normal>(without_error(shapes[0], 0.09)->deviation).sd == Approx(0.4));
  const auto parts = std::get<std::shared_ptr<const sampling::Mixture>>(without_error(shapes[5], 0.09)->deviation);
  CHECK(std::get<sampling::Normal>(parts->parts[1].shape).sd == Approx(0.4));
  CHECK(parts->parts[1].shift == Approx(1.2));
  // A lognormal keeps the form the grammar knows: its value is its median.
  const auto logs = *without_error(shapes[2], 0.09);
  CHECK(std::get<sampling::Lognormal>(logs.deviation).scale == logs.at);
  CHECK_FALSE(without_error(shapes[0], 0.26));
}

TEST_CASE("gauges of one load are weighed by their precision") {
  // Repeatabilities 1 and 2: weights 4/5 and 1/5, variance of the mean 1 / (1 + 1/4) = 4/5.
  const std::vector<GaugeError> two{{.repeatability = 1.0}, {.repeatability = 2.0}};
  const Combination both = combine(two);
  CHECK(both.weights[0] == Approx(0.8));
  CHECK(both.error_variance == Approx(0.8));
  // x1 - mean = (x1 - x2) / 5, of variance (1 + 4) / 25 / n.
  const auto apart = disagreements(two, both, std::vector{10.0, 11.0}, 20, 0.95);
  CHECK(apart[0].difference == Approx(-0.2));
  CHECK(apart[1].difference == Approx(0.8));
  CHECK(apart[0].uncertainty.standard == Approx(std::sqrt(5.0 / 25.0 / 20.0)));
  // One without error leaves nothing to the other.
  const Combination perfect = combine(std::vector<GaugeError>{{.repeatability = 0.0}, {.repeatability = 2.0}});
  CHECK(perfect.weights[0] == 1.0);
  CHECK(perfect.error_variance == 0.0);
}
