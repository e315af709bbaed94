#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "engine/statistics/intervals.hpp"

namespace mintspread::statistics {

/// Equal bins over [lower, lower + bins * width).
struct BinEdges {
  double lower = 0.0;
  double width = 1.0;  ///< > 0
  std::size_t bins = 1;

  /// Edges for values like those of a pilot sample (NaN left out): 4096 bins that reach its range widened by that range
  /// on either side. A pilot without spread gets one narrow bin about its value.
  static BinEdges from_pilot(std::span<const double> values);
  bool operator==(const BinEdges&) const = default;
};

/// A drawing's histogram: counts below, in, and above equal bins.
struct CoarseHistogram {
  double lower, upper;
  std::vector<std::uint64_t> counts;
  std::uint64_t below, above;
};

/// Counts of values on fixed bins, with the smallest and largest value: a distribution in constant memory. Mergeable;
/// order does not matter.
class BinnedCounts {
 public:
  explicit BinnedCounts(const BinEdges& edges);

  /// All values finite. Values outside the bins are counted below or above them.
  void add(std::span<const double> values);
  /// Both on the same edges.
  void merge(const BinnedCounts& other);

  std::uint64_t count() const { return count_; }
  /// [0] below the bins, then each bin, then above.
  const std::vector<std::uint64_t>& counts() const { return counts_; }
  /// Where the values at a position of counts() end; the largest value for those above the bins.
  double upper_edge(std::size_t position) const { return span_of(position).upper; }
  double smallest() const { return smallest_; }
  double largest() const { return largest_; }
  /// Width of a bin: quantiles are interpolated within it, so they are known no better than to about this.
  double resolution() const { return constant() ? 0.0 : edges_.width; }

  /// The value below which the fraction p of the values lies, interpolated linearly inside its bin; beyond the bins
  /// between the last edge and the extreme. NaN without values.
  double quantile(double p) const;
  /// Order-statistics interval: values at the binomial ranks about n p. The error of the interpolation, independent of
  /// the sampling error, is added to either half in quadrature: the part of half a bin that the neighbouring counts
  /// leave open, nothing where the density is straight over three bins, all of it where a bin stands alone.
  Interval quantile_interval(double p, double confidence) const;
  /// Fraction of the values below one, interpolated like quantile().
  double fraction_below(double value) const;
  /// The values below which the two fractions lie, widened likewise.
  Interval values_between(double lower_fraction, double upper_fraction) const;
  /// About `bins` coarse bins over the values' range, cut at the fine edges.
  /// Values that are multiples of `step` get bins of as many multiples each: other bins would hold now one more, now
  /// one less, and the drawing would look like a comb. 0 for other values.
  CoarseHistogram histogram(std::size_t bins, double step = 0.0) const;

 private:
  bool constant() const { return smallest_ == largest_; }
  double value_at_rank(double rank) const;
  CoarseHistogram stepped_histogram(std::size_t first, std::size_t last, std::size_t bins, double step) const;
  Interval span_of(std::size_t position) const;
  double interpolation_error(double value) const;
  Interval widened(double value, const Interval& interval) const;

  BinEdges edges_;
  std::vector<std::uint64_t> counts_;  ///< [0] below, then the bins, then above
  std::uint64_t count_ = 0;
  double smallest_, largest_;
};

}  // namespace mintspread::statistics
