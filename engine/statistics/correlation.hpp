#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "engine/statistics/intervals.hpp"

namespace mintspread::statistics {

/// Values about their mean, made once for all pairs that they stand in.
class CentredColumn {
 public:
  /// All values finite.
  explicit CentredColumn(std::span<const double> values);

 private:
  friend class PairMoments;
  double mean_ = 0.0, squares_ = 0.0;
  std::vector<double> deviations_;
};

/// Means and second co-moments of two quantities over the pairs seen so far; mergeable. A span is taken about its own
/// means, then merged by the pairwise formula of P. Pebay, Sandia report SAND2008-6212 (2008). The result depends on
/// the order of the calls, never on anything else.
class PairMoments {
 public:
  /// Of equal length, all values finite.
  void add(std::span<const double> first, std::span<const double> second);
  void add(const CentredColumn& first, const CentredColumn& second);
  void merge(const PairMoments& later);

  std::uint64_t count() const { return count_; }
  /// Pearson's product-moment correlation, in [-1, 1]; NaN when one of the two does not vary.
  double correlation() const;

 private:
  std::uint64_t count_ = 0;
  double mean_first_ = 0.0, mean_second_ = 0.0;
  double squares_first_ = 0.0, squares_second_ = 0.0, products_ = 0.0;
};

/// Interval for the correlation behind `correlation` in `count` independent pairs (> 3), both quantities taken as
/// normal: atanh r is about normal with variance 1 / (n - 3) (R. A. Fisher, Metron 1, 3 (1921), from memory).
Interval correlation_interval(double correlation, std::uint64_t count, double confidence);

}  // namespace mintspread::statistics
