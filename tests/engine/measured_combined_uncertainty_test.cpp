#include <boost/random/chi_squared_distribution.hpp>
#include <boost/random/mersenne_twister.hpp>
#include <boost/random/normal_distribution.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/measured/combined_uncertainty.hpp"
#include "engine/measured/gauge_error.hpp"

using namespace mintspread;
using namespace mintspread::measured;

namespace {

ErrorPart part(double standard, double freedom) { return {standard * standard, freedom}; }

}  // namespace

TEST_CASE("effective degrees of freedom and expanded uncertainty are those of the examples of the GUM") {
  // JCGM 100:2008, from memory. G.4.1: relative uncertainties in % of 10, 5 and 15 readings; 1.03 %, 19.0, 2.09, 2.2 %.
  const auto product = combined(std::vector{part(0.25, 9), part(0.57, 4), part(0.82, 14)}, 0.95);
  CHECK(product.standard == Approx(1.03).margin(0.005));
  CHECK(product.freedom == Approx(19.0).margin(0.05));
  CHECK(product.expanded / product.standard == Approx(2.09).margin(0.005));
  CHECK(product.expanded == Approx(2.2).margin(0.05));
  // H.1: a gauge block, in nm; what is printed was computed from numbers before rounding. The comparison, 9.7 and 25.6:
  // five readings of a pooled sd of 13, limits of 10 at 95 % by 5 degrees of freedom, 20 at three sd known to 25 %.
  const auto comparison =
      combined(std::vector{part(13 / std::sqrt(5), 24), part(10 / 2.571, 5), part(20.0 / 3, 8)}, 0.99);
  CHECK(comparison.standard == Approx(9.7).margin(0.05));
  CHECK(comparison.freedom == Approx(25.6).margin(0.05));
  // With the standard (75 at three sd), expansion and temperature, evenly within 1e-6/K and 0.05 K: 32 and 16.7. The
  // GUM truncates to 16, where t for 99 % is 2.92; for 17 it is 2.90.
  const double length = 50e6;
  const auto block = combined(
      std::vector{part(25, 18), ErrorPart{std::pow(comparison.standard, 2), comparison.freedom},
                  part(length * 0.1 * 1e-6 / std::sqrt(3), 50), part(length * 11.5e-6 * 0.05 / std::sqrt(3), 2)},
      0.99);
  CHECK(block.standard == Approx(32).margin(0.5));
  CHECK(block.freedom == Approx(16.7).margin(0.05));
  CHECK(block.expanded / block.standard > 2.895);
  CHECK(block.expanded / block.standard < 2.925);
}

TEST_CASE("parts taken as known leave a normal, one that is not its own Student's t") {
  const auto known = combined(std::vector{part(3, 0), part(4, 0)}, 0.95);
  CHECK(known.standard == Approx(5));
  CHECK(known.freedom == 0.0);
  CHECK(known.expanded == Approx(5 * 1.959964));
  // Table G.2 of JCGM 100:2008, from memory: 12.71, 4.30, 2.78 of 1, 2 and 4 degrees of freedom at 95 %.
  for (const auto& [freedom, factor] : {std::pair{1.0, 12.71}, {2.0, 4.30}, {4.0, 2.78}})
    CHECK(combined(std::vector{part(1, freedom)}, 0.95).expanded == Approx(factor).margin(0.005));
  // Of 5 of which 3 are from 4 degrees: 625 / (81 / 4).
  CHECK(combined(std::vector{part(3, 4), part(4, 0)}, 0.95).freedom == Approx(2500.0 / 81.0));
  CHECK(combined(std::vector{part(0, 4)}, 0.95).expanded == 0.0);
}

TEST_CASE("the bias's uncertainty is of corrected readings, and a gauge bears on a mean by its share") {
  // A chord at 60 degrees is twice the thickness, and so is its bias.
  const std::vector<GaugeError> gauges{{.proportional_bias = 1.0, .bias_uncertainty = 0.6, .bias_freedom = 5},
                                       {.bias_uncertainty = 0.4}};
  CHECK(gauges[0].bias_part().variance == Approx(0.09));
  const auto mean = uncertainty_of_mean(part(0.2, 11), gauges, std::vector{0.75, 0.25}, 0.95);
  const double bias = 0.75 * 0.3, other = 0.25 * 0.4;
  CHECK(mean.standard == Approx(std::sqrt(0.04 + bias * bias + other * other)));
  CHECK(mean.freedom == Approx(std::pow(mean.standard, 4) / (0.0016 / 11 + std::pow(bias, 4) / 5)));
}

TEST_CASE(
    "differences of gauges whose biases few readings of a standard told lie within the interval as often as said") {
  // Two gauges that agree, each bias found from n readings of a standard: in 95 % of 40000 samples, to four standard
  // errors of 0.11 %. With one bias alone the law is Student's t itself; the sum of two is near one, and may miss by
  // another 1 %. As known, 4 and 9 readings hold far less.
  boost::random::mt19937_64 generator(3);
  boost::random::normal_distribution<double> normal;
  constexpr int samples = 40000;
  struct Row {
    double first_sd, first_freedom, second_sd, second_freedom, method;
  };
  for (const Row& row : {Row{1.0, 3, 0.0, 1, 0.0}, Row{1.0, 3, 1.0, 3, 0.01}, Row{1.0, 3, 0.5, 8, 0.01}}) {
    int held = 0, held_as_known = 0;
    boost::random::chi_squared_distribution<double> first(row.first_freedom), second(row.second_freedom);
    for (int i = 0; i < samples; ++i) {
      const double error = row.first_sd * normal(generator), other = row.second_sd * normal(generator);
      std::vector<GaugeError> gauges{
          {.repeatability = 0.1,
           .bias_uncertainty = row.first_sd * std::sqrt(first(generator) / row.first_freedom),
           .bias_freedom = row.first_freedom},
          {.repeatability = 0.1,
           .bias_uncertainty = row.second_sd * std::sqrt(second(generator) / row.second_freedom),
           .bias_freedom = row.second_freedom}};
      const auto holds = [&] {
        const auto apart = disagreements(gauges, combine(gauges), std::vector{20 + error, 20 + other}, 1000000, 0.95);
        return std::abs(apart[0].difference) <= apart[0].uncertainty.expanded ? 1 : 0;
      };
      held += holds();
      gauges[0].bias_freedom = gauges[1].bias_freedom = 0.0;
      held_as_known += holds();
    }
    INFO(row.first_sd << " " << row.second_sd << " of " << samples << ": " << held << ", as known " << held_as_known);
    CHECK(std::abs(held - 0.95 * samples) < (0.0044 + row.method) * samples);
    CHECK(held_as_known < 0.93 * samples);
  }
}
