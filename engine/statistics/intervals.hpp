#pragma once

#include <cstdint>

#include "engine/statistics/moments.hpp"

namespace mintspread::statistics {

struct Interval {
  double lower, upper;
};

/// Two-sided intervals for the probability behind `count` successes in `trials` independent trials (> 0).
/// Clopper & Pearson, Biometrika 26, 404 (1934): never covers less than stated.
Interval clopper_pearson(std::uint64_t count, std::uint64_t trials, double confidence);
/// Wilson, J. Am. Stat. Assoc. 22, 209 (1927).
Interval wilson(std::uint64_t count, std::uint64_t trials, double confidence);
/// Equal-tailed posterior of the Jeffreys prior; 0 at no success and 1 at no failure (Brown, Cai & DasGupta, Stat. Sci.
/// 16, 101 (2001)).
Interval jeffreys(std::uint64_t count, std::uint64_t trials, double confidence);

/// Where the distribution function of the value of a rank (1 = smallest) among n independent values lies: the
/// equal-tailed interval of a beta distribution with rank and n + 1 - rank (H. A. David, Order Statistics, 1970, from
/// memory).
Interval probability_at_rank(std::uint64_t n, std::uint64_t rank, double confidence);

/// mean +- t sd / sqrt n (n >= 2).
Interval mean_interval(const Moments& moments, double confidence);
/// For the standard deviation, from the large-sample variance of log s, (excess kurtosis + 2 n/(n-1)) / (4 n)
/// (Kendall & Stuart, The Advanced Theory of Statistics, vol. 1, from memory).
Interval sd_interval(const Moments& moments, double confidence);

/// Ranks (1 = smallest) whose order statistics enclose the p-quantile with at least `confidence`; lower 0 and upper n +
/// 1 when no observation does.
struct RankInterval {
  std::uint64_t lower, upper;
};
RankInterval quantile_ranks(std::uint64_t n, double p, double confidence);

}  // namespace mintspread::statistics
