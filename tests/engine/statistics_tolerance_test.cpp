#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <vector>

#include "engine/sampling/draws.hpp"
#include "engine/statistics/anderson_darling.hpp"
#include "engine/statistics/tolerance.hpp"
#include "tests/reference/oxide.hpp"

using namespace mintspread::statistics;

TEST_CASE("normal tolerance factors are the published ones") {
  // NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: n = 43, 90 % with 99 % confidence, one-sided 1.8740 (the
  // digits beyond by Boost and R, pt). Two-sided by R package tolerance, K.factor(side = 2, method = "EXACT").
  CHECK(one_sided_factor(43, 0.90, 0.99) == Approx(1.8739536058512).epsilon(1e-9));
  CHECK(one_sided_factor(30, 0.95, 0.95) == Approx(2.21983753).epsilon(1e-8));
  CHECK(two_sided_factor(43, 0.90, 0.99) == Approx(2.2228251737965).epsilon(1e-9));
  CHECK(two_sided_factor(30, 0.95, 0.95) == Approx(2.55489281).epsilon(1e-8));
  CHECK(two_sided_factor(10, 0.95, 0.95) == Approx(3.39342948).epsilon(1e-8));
  CHECK(two_sided_factor(5, 0.95, 0.95) == Approx(5.07687453).epsilon(1e-8));
}

TEST_CASE("a million values have the factor of the limit") {
  // Mean and sd are then all but known: z (1 + z_conf / sqrt(2 n)) to first order in 1 / sqrt n.
  const double z = 2.9999769927034, edge = 1.0 + 1.6448536269515 / std::sqrt(2e6);
  CHECK(two_sided_factor(1000000, 0.9973, 0.95) == Approx(z * edge).epsilon(1e-5));
}

TEST_CASE("sample sizes free of any distribution are those of Wilks") {
  // S. S. Wilks, Ann. Math. Stat. 12, 91 (1941): 59, 93, 124, 153, 181 values for 95 % with 95 % confidence by the
  // largest to the fifth largest; 93 for the range.
  const std::uint64_t expected[] = {59, 93, 124, 153, 181};
  for (std::uint64_t s = 1; s <= 5; ++s) CHECK(values_for_coverage(0.95, 0.95, s) == expected[s - 1]);
  CHECK(values_for_range(0.95, 0.95) == 93);
  CHECK(coverage_of_largest(59, 0.95) >= 0.95);
  CHECK(coverage_of_largest(58, 0.95) < 0.95);
  // The range encloses a part p with confidence 1 - n p^(n-1) + (n-1) p^n.
  const double p = coverage_of_range(240, 0.95);
  CHECK(1 - 240 * std::pow(p, 239) + 239 * std::pow(p, 240) == Approx(0.95).epsilon(1e-10));
}

TEST_CASE("the statistic of Anderson and Darling judges the dyestuff yields as R does") {
  // R package nortest, ad.test: A^2 = 0.5095931844, p = 0.182471541 (yields from lme4).
  std::vector<double> sorted(mintspread::test::dyestuff_yield.begin(), mintspread::test::dyestuff_yield.end());
  std::sort(sorted.begin(), sorted.end());
  const double mean = std::accumulate(sorted.begin(), sorted.end(), 0.0) / 30.0;
  double squares = 0.0;
  for (double value : sorted) squares += (value - mean) * (value - mean);
  const boost::math::normal law(mean, std::sqrt(squares / 29.0));
  std::vector<Seen> one_by_one, together;
  for (double value : sorted) {
    one_by_one.push_back({cdf(law, value), cdf(complement(law, value)), 1});
    if (!together.empty() && together.back().below == one_by_one.back().below)
      ++together.back().count;
    else
      together.push_back(one_by_one.back());
  }
  CHECK(anderson_darling(one_by_one) == Approx(0.5095931844).epsilon(1e-9));
  CHECK(anderson_darling(together) == Approx(0.5095931844).epsilon(1e-9));
  CHECK(together.size() < one_by_one.size());
  CHECK(normality_p_value(0.5095931844, 30) == Approx(0.182471541).epsilon(1e-8));
  CHECK(normality_p_value(1e3, 30) < 1e-10);
}

TEST_CASE("rounding and bins leave the statistic of Anderson and Darling what it is") {
  const boost::math::normal law(0.0, 1.0);
  for (const std::uint64_t n : {std::uint64_t{300}, std::uint64_t{200000}}) {
    std::vector<double> drawn(n);
    mintspread::sampling::uniforms(11, mintspread::sampling::address_of("test", 1), 0, 0, drawn);
    for (double& u : drawn) u = quantile(law, u);
    std::sort(drawn.begin(), drawn.end());
    std::vector<Seen> exact, middles;
    std::vector<SeenBetween> rounded;
    const auto sides = [&](double x) { return std::pair(cdf(law, x), cdf(complement(law, x))); };
    double last = 1e9;
    for (double x : drawn) {
      exact.push_back({cdf(law, x), cdf(complement(law, x)), 1});
      const double middle = 0.1 * std::round(x / 0.1);
      if (middle == last) {
        ++middles.back().count, ++rounded.back().count;
        continue;
      }
      last = middle;
      const auto [below, above] = sides(middle);
      const auto [below_1, above_1] = sides(middle - 0.05);
      const auto [below_2, above_2] = sides(middle + 0.05);
      middles.push_back({below, above, 1});
      rounded.push_back({below_1, above_1, below_2, above_2, 1});
    }
    // What varies within bins is left out: a standard deviation of a few hundredths.
    CHECK(anderson_darling_between(rounded) == Approx(anderson_darling(exact)).margin(0.15));
    if (n > 1000) CHECK(anderson_darling(middles) > 20.0);  // ties without end
  }
  // One bin that holds everything says nothing: the expectation of A^2 itself, 1 (Anderson & Darling 1954), less none.
  CHECK(anderson_darling_between(std::vector<SeenBetween>{{0.0, 1.0, 1.0, 0.0, 50}}) == Approx(1.0));
}
