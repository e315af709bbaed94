#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "engine/statistics/binned_counts.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"

using namespace mintspread::statistics;

TEST_CASE("merged moments are those of all values together") {
  // Exact sums of {1..5, 10, 20, 40}: mean 85/8, and integer arithmetic for the powers.
  Moments a, b;
  a.add(std::array{1.0, 2.0, 3.0, 4.0, 5.0});
  b.add(std::array{10.0, 20.0, 40.0});
  a.merge(b);
  CHECK(a.count() == 8);
  CHECK(a.mean() == Approx(10.625).epsilon(1e-14));
  CHECK(a.m2() == Approx(1251.875).epsilon(1e-14));
  CHECK(a.m3() == Approx(23725.78125).epsilon(1e-14));
  CHECK(a.m4() == Approx(772729.24414063).epsilon(1e-13));
}

TEST_CASE("moments keep their digits beside a large mean") {
  // NIST StRD univariate summary statistics: NumAcc1 to NumAcc3 (certified mean and standard deviation).
  Moments first;
  first.add(std::array{10000001.0, 10000003.0, 10000002.0});
  CHECK(first.mean() == 10000002.0);
  CHECK(first.sd() == 1.0);
  for (const auto& [base, tolerance] : {std::pair{1.0, 1e-13}, std::pair{1000000.0, 1e-9}}) {
    std::vector<double> values{base + 0.2};
    for (int i = 0; i < 500; ++i) {
      values.push_back(base + 0.1);
      values.push_back(base + 0.3);
    }
    Moments together, parts;
    together.add(values);
    for (std::size_t i = 0; i < values.size(); i += 77) {
      parts.add(std::span(values).subspan(i, std::min<std::size_t>(77, values.size() - i)));
    }
    for (const auto& moments : {together, parts}) {
      CHECK(moments.mean() == Approx(base + 0.2).epsilon(1e-15));
      CHECK(std::abs(moments.sd() - 0.1) < tolerance);
    }
  }
}

TEST_CASE("proportion intervals agree with general statistics software") {
  // 3 of 100 and 0 of 100; computed with SciPy and R (binom), the Clopper-Pearson and Jeffreys ones also with Boost.
  const auto exact = clopper_pearson(3, 100, 0.95);
  CHECK(exact.lower == Approx(0.006229971538).epsilon(1e-9));
  CHECK(exact.upper == Approx(0.085176052974).epsilon(1e-9));
  CHECK(wilson(3, 100, 0.95).lower == Approx(0.010254524024).epsilon(1e-9));
  CHECK(wilson(3, 100, 0.95).upper == Approx(0.0845193642905).epsilon(1e-9));
  CHECK(jeffreys(3, 100, 0.95).lower == Approx(0.00852028311).epsilon(1e-8));
  CHECK(jeffreys(3, 100, 0.95).upper == Approx(0.0778875694).epsilon(1e-8));
  CHECK(clopper_pearson(0, 100, 0.95).lower == 0.0);
  CHECK(clopper_pearson(0, 100, 0.95).upper == Approx(0.0362166926).epsilon(1e-8));
  CHECK(wilson(0, 100, 0.95).upper == Approx(0.0369934982).epsilon(1e-8));
  CHECK(jeffreys(0, 100, 0.95).upper == Approx(0.02474527).epsilon(1e-6));
  // Far tails: a million pieces.
  CHECK(clopper_pearson(0, 1000000, 0.95).upper == Approx(3.68887265e-6).epsilon(1e-8));
  CHECK(clopper_pearson(3, 1000000, 0.95).lower == Approx(6.1867255e-7).epsilon(1e-7));
  CHECK(clopper_pearson(3, 1000000, 0.95).upper == Approx(8.76724779e-6).epsilon(1e-8));
  // Closed form: the upper bound for no success is 1 - (tail)^(1/n).
  CHECK(clopper_pearson(0, 1000, 0.95).upper == Approx(1.0 - std::pow(0.025, 1.0 / 1000)).epsilon(1e-12));
}

TEST_CASE("ranks about a far quantile are the binomial ones") {
  // n = 1e6, p = 0.00135, 95 %: computed with SciPy's binom.
  const auto ranks = quantile_ranks(1000000, 0.00135, 0.95);
  CHECK(ranks.lower == 1279);
  CHECK(ranks.upper == 1423);
  // Too few values to enclose the quantile from below: the interval is open there.
  CHECK(quantile_ranks(10, 0.00135, 0.95).lower == 0);
}

TEST_CASE("binned quantiles are those of the sorted values to within a bin") {
  std::mt19937_64 engine(5);
  std::normal_distribution<double> normal(3.0, 0.5);
  std::vector<double> values(20000);
  for (double& value : values) value = normal(engine);
  const auto edges = BinEdges::from_pilot(std::span(values).first(2000));
  BinnedCounts first(edges), second(edges), all(edges);
  first.add(std::span(values).first(7000));
  second.add(std::span(values).subspan(7000));
  first.merge(second);
  all.add(values);
  std::ranges::sort(values);
  for (const double p : {0.00135, 0.025, 0.5, 0.975, 0.99865}) {
    const double expected = values[static_cast<std::size_t>(p * 20000)];
    CHECK(std::abs(first.quantile(p) - expected) < 0.5 * (values.back() - values.front()) / 100);
    CHECK(first.quantile(p) == all.quantile(p));
    const auto interval = first.quantile_interval(p, 0.95);
    CHECK(interval.lower < first.quantile(p));
    CHECK(interval.upper > first.quantile(p));
  }
  CHECK(std::abs(first.quantile(0.5) - values[10000]) < 2.0 * first.resolution());
  std::uint64_t drawn = 0;
  const auto histogram = first.histogram(96);
  for (const auto count : histogram.counts) drawn += count;
  CHECK(drawn + histogram.below + histogram.above == 20000);
}

TEST_CASE("the drawing of rounded values has the same number of steps in every bin") {
  std::mt19937_64 engine(8);
  std::normal_distribution<double> normal(431.3, 20.0);
  std::vector<double> values(30000);
  for (double& value : values) value = 0.3 * std::nearbyint(normal(engine) / 0.3);
  BinnedCounts counts(BinEdges::from_pilot(std::span(values).first(2000)));
  counts.add(values);
  const auto drawn = counts.histogram(96, 0.3);
  CHECK(drawn.counts.size() <= 96);
  const double width = (drawn.upper - drawn.lower) / static_cast<double>(drawn.counts.size());
  const double steps = width / 0.3;
  CHECK(steps == Approx(std::nearbyint(steps)).epsilon(1e-9));
  CHECK(steps > 1.5);
  for (std::size_t i = 0; i < drawn.counts.size(); ++i) {
    const double from = drawn.lower + static_cast<double>(i) * width;
    const auto inside = [&](double value) { return value > from && value < from + width; };
    CHECK(static_cast<std::uint64_t>(std::ranges::count_if(values, inside)) == drawn.counts[i]);
  }
}

TEST_CASE("a channel that never changes has its value as every quantile") {
  const std::vector<double> values(1000, 7.25);
  BinnedCounts counts(BinEdges::from_pilot(values));
  counts.add(values);
  CHECK(counts.quantile(0.00135) == 7.25);
  CHECK(counts.quantile(0.99865) == 7.25);
  CHECK(counts.resolution() == 0.0);
}

TEST_CASE("a value beyond the bins is the extreme and nothing else") {
  BinnedCounts counts(BinEdges{0.0, 0.1, 10});
  counts.add(std::array{0.05, 0.15, 0.25, 99.0});
  CHECK(counts.largest() == 99.0);
  CHECK(counts.quantile(1.0) == 99.0);
  CHECK(counts.quantile(0.25) <= 0.1);
}
