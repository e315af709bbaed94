#include "engine/statistics/intervals.hpp"

#include <algorithm>
#include <boost/math/distributions/beta.hpp>
#include <boost/math/distributions/binomial.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {

double beta_quantile(double a, double b, double p) { return quantile(boost::math::beta_distribution<>(a, b), p); }

double normal_quantile(double p) { return quantile(boost::math::normal_distribution<>(), p); }

void expect_trials(std::uint64_t count, std::uint64_t trials, double confidence) {
  expect(trials > 0 && count <= trials, "successes are among the trials");
  expect(confidence > 0.0 && confidence < 1.0, "confidence lies between 0 and 1");
}

}  // namespace

Interval clopper_pearson(std::uint64_t count, std::uint64_t trials, double confidence) {
  expect_trials(count, trials, confidence);
  const double tail = 0.5 * (1.0 - confidence);
  const auto k = static_cast<double>(count);
  const auto n = static_cast<double>(trials);
  return {count == 0 ? 0.0 : beta_quantile(k, n - k + 1.0, tail),
          count == trials ? 1.0 : quantile(complement(boost::math::beta_distribution<>(k + 1.0, n - k), tail))};
}

Interval wilson(std::uint64_t count, std::uint64_t trials, double confidence) {
  expect_trials(count, trials, confidence);
  const double z = normal_quantile(0.5 * (1.0 + confidence));
  const auto n = static_cast<double>(trials);
  const double p = static_cast<double>(count) / n;
  const double scale = 1.0 / (1.0 + z * z / n);
  const double centre = scale * (p + z * z / (2.0 * n));
  const double half = scale * z * std::sqrt(p * (1.0 - p) / n + z * z / (4.0 * n * n));
  return {std::max(0.0, centre - half), std::min(1.0, centre + half)};
}

Interval jeffreys(std::uint64_t count, std::uint64_t trials, double confidence) {
  expect_trials(count, trials, confidence);
  const double tail = 0.5 * (1.0 - confidence);
  const double a = static_cast<double>(count) + 0.5;
  const double b = static_cast<double>(trials - count) + 0.5;
  return {count == 0 ? 0.0 : beta_quantile(a, b, tail), count == trials ? 1.0 : beta_quantile(a, b, 1.0 - tail)};
}

Interval probability_at_rank(std::uint64_t n, std::uint64_t rank, double confidence) {
  expect(rank > 0 && rank <= n, "a rank is one of the values'");
  const auto k = static_cast<double>(rank), above = static_cast<double>(n - rank) + 1.0;
  const double tail = 0.5 * (1.0 - confidence);
  return {beta_quantile(k, above, tail), beta_quantile(k, above, 1.0 - tail)};
}

Interval mean_interval(const Moments& moments, double confidence) {
  expect(moments.count() >= 2, "an interval for a mean needs two values");
  const auto n = static_cast<double>(moments.count());
  const double t = quantile(boost::math::students_t_distribution<>(n - 1.0), 0.5 * (1.0 + confidence));
  const double half = t * moments.sd() / std::sqrt(n);
  return {moments.mean() - half, moments.mean() + half};
}

Interval sd_interval(const Moments& moments, double confidence) {
  expect(moments.count() >= 2, "an interval for a standard deviation needs two values");
  const auto n = static_cast<double>(moments.count());
  const double variance = (moments.excess_kurtosis() + 2.0 * n / (n - 1.0)) / (4.0 * n);
  const double half = normal_quantile(0.5 * (1.0 + confidence)) * std::sqrt(std::max(0.0, variance));
  return {moments.sd() * std::exp(-half), moments.sd() * std::exp(half)};
}

RankInterval quantile_ranks(std::uint64_t n, double p, double confidence) {
  expect(n > 0 && p > 0.0 && p < 1.0, "a quantile of something");
  using boost::math::policies::discrete_quantile;
  using boost::math::policies::integer_round_down;
  using boost::math::policies::policy;
  const boost::math::binomial_distribution<double, policy<discrete_quantile<integer_round_down>>> down(
      static_cast<double>(n), p);
  const double tail = 0.5 * (1.0 - confidence);
  // P(X <= r - 1) <= tail for the lower rank r, P(X >= u) <= tail for the upper rank u, with X the number of values
  // below the quantile.
  auto lower = static_cast<std::uint64_t>(quantile(down, tail));
  while (lower > 0 && cdf(down, static_cast<double>(lower) - 1.0) > tail) --lower;
  while (lower < n && cdf(down, static_cast<double>(lower)) <= tail) ++lower;
  auto upper = std::max<std::uint64_t>(1, static_cast<std::uint64_t>(quantile(complement(down, tail))));
  while (upper <= n && cdf(complement(down, static_cast<double>(upper) - 1.0)) > tail) ++upper;
  while (upper > 1 && cdf(complement(down, static_cast<double>(upper) - 2.0)) <= tail) --upper;
  return {lower, upper};
}

}  // namespace mintspread::statistics
