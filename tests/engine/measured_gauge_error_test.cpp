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
  const auto apart = disagreements(two, both, std::vector{10.0, 11.0}, 20);
  CHECK(apart[0].difference == Approx(-0.2));
  CHECK(apart[1].difference == Approx(0.8));
  CHECK(apart[0].uncertainty == Approx(std::sqrt(5.0 / 25.0 / 20.0)));
  // One without error leaves nothing to the other.
  const Combination perfect = combine(std::vector<GaugeError>{{.repeatability = 0.0}, {.repeatability = 2.0}});
  CHECK(perfect.weights[0] == 1.0);
  CHECK(perfect.error_variance == 0.0);
}
