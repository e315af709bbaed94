#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/sampling/draws.hpp"
#include "engine/sampling/quantile.hpp"
#include "engine/statistics/binned_counts.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"

using namespace mintspread;

namespace {

constexpr std::size_t repeats = 2000;
constexpr std::size_t values_each = 2000;
// Covered repeats are binomial: 4.9 standard errors about 95 %, beyond which luck carries once in a million.
const double luck = 4.9 * std::sqrt(0.95 * 0.05 / repeats);

struct Covered {
  double mean = 0.0, sd = 0.0, normal_sd = 0.0, lower_quantile = 0.0, upper_quantile = 0.0;
};

// Fractions of repeats whose 95 % intervals hold the shape's own figures. `normal_sd`: the interval a normal
// distribution would have, sd (1 -+ 1.96 / sqrt(2 n)).
Covered coverage(const sampling::Shape& shape) {
  const sampling::Quantile quantile(shape);
  const auto exact = [&](double p) {
    double value;
    quantile.from_uniform({&p, 1}, {&value, 1});
    return value;
  };
  const double low = exact(0.025), high = exact(0.99);
  Covered covered;
  std::vector<double> x(values_each);
  for (std::size_t r = 0; r < repeats; ++r) {
    sampling::uniforms(r, 1, 0, 0, x);
    quantile.from_uniform(x, x);
    statistics::Moments moments;
    moments.add(x);
    statistics::BinnedCounts counts(statistics::BinEdges::from_pilot(x));
    counts.add(x);
    const auto count = [](double& fraction, statistics::Interval interval, double value) {
      if (interval.lower <= value && value <= interval.upper) fraction += 1.0 / repeats;
    };
    count(covered.mean, statistics::mean_interval(moments, 0.95), quantile.mean());
    count(covered.sd, statistics::sd_interval(moments, 0.95), quantile.sd());
    const double part = 1.96 / std::sqrt(2.0 * values_each);
    count(covered.normal_sd, {moments.sd() * (1.0 - part), moments.sd() * (1.0 + part)}, quantile.sd());
    count(covered.lower_quantile, counts.quantile_interval(0.025, 0.95), low);
    count(covered.upper_quantile, counts.quantile_interval(0.99, 0.95), high);
  }
  return covered;
}

}  // namespace

TEST_CASE("95 % intervals for mean, standard deviation and quantiles cover 95 % of the time, normal or not") {
  for (const sampling::Shape& shape : std::vector<sampling::Shape>{sampling::Normal{2.0}, sampling::Uniform{0.0, 1.0},
                                                                   sampling::Lognormal{1.0, 0.3}}) {
    const Covered covered = coverage(shape);
    INFO("shape " << shape.index() << ": mean " << covered.mean << ", sd " << covered.sd << ", quantiles "
                  << covered.lower_quantile << ", " << covered.upper_quantile);
    CHECK(std::abs(covered.mean - 0.95) < luck);
    CHECK(std::abs(covered.sd - 0.95) < luck);
    // Binomial ranks cover at least what is stated; here up to one per cent more, since ranks are whole numbers.
    CHECK(covered.lower_quantile > 0.95 - luck);
    CHECK(covered.lower_quantile < 0.96 + luck);
    CHECK(covered.upper_quantile > 0.95 - luck);
    CHECK(covered.upper_quantile < 0.97 + luck);
  }
}

TEST_CASE("an interval for the standard deviation that trusts normality fails where kurtosis is not zero") {
  CHECK(coverage(sampling::Uniform{0.0, 1.0}).normal_sd > 0.95 + luck);
  CHECK(coverage(sampling::Lognormal{1.0, 0.3}).normal_sd < 0.95 - luck);
}

TEST_CASE("binned quantiles lie within one bin of the sorted values, wherever the bins end") {
  std::vector<double> x(5000);
  sampling::uniforms(3, 9, 0, 0, x);
  sampling::Quantile(sampling::Lognormal{1.0, 0.5}).from_uniform(x, x);
  statistics::BinnedCounts counts(statistics::BinEdges::from_pilot(std::span(x).first(200)));
  counts.add(x);
  std::sort(x.begin(), x.end());
  for (double p = 0.0005; p < 1.0; p += 0.00037) {
    // The value at rank n p lies between the sorted values on either side of it.
    const double rank = p * double(x.size());
    const auto before = static_cast<std::size_t>(std::max(0.0, std::floor(rank) - 1.0));
    const auto after = std::min(x.size() - 1, static_cast<std::size_t>(std::ceil(rank)));
    CHECK(counts.quantile(p) >= x[before] - counts.resolution());
    CHECK(counts.quantile(p) <= x[after] + counts.resolution());
  }
}

TEST_CASE("the exact upper bound for no rejects is the rule of three's exact form") {
  // One-sided 95 %: 1 - 0.05^(1/n).
  CHECK(statistics::clopper_pearson(0, 100, 0.90).upper == Approx(0.029513049607).epsilon(1e-10));
  CHECK(statistics::clopper_pearson(0, 1000000, 0.90).upper == Approx(2.995727786e-6).epsilon(1e-9));
}
