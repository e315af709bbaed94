#pragma once

#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"
#include "engine/statistics/variance_interval.hpp"

namespace mintspread::statistics {

/// What one group of a nested design contributes. `variance` is as estimated and may be negative, by sampling error or
/// because units of the group resemble each other less than chance would have it.
struct GroupVariance {
  std::uint64_t units = 0;    ///< of the group, in all
  std::uint64_t freedom = 0;  ///< degrees of freedom; 0: the group is not told from the one it is part of
  double mean_square = 0.0;
  double variance = 0.0;
  double part = 0.0;  ///< mean number of values a unit holds, as the expected mean square counts them
  /// Standard uncertainty of the variance for normal effects: mean squares as independent multiples of chi squared,
  /// each of variance 2 MS^2 / freedom (Searle, Linear Models, 1971, ch. 11, from memory; exact for equal sizes but for
  /// the true mean squares in place of those found).
  double uncertainty = 0.0;
  /// 95 % interval of the variance for normal effects, by variance_interval(), from unweighted mean squares: each
  /// unit's mean is that of its units, whatever their sizes (J. D. Thomas & R. A. Hultquist, Ann. Stat. 6, 582 (1978),
  /// and R. K. Burdick & F. A. Graybill, Confidence Intervals on Variance Components, 1992, ch. 4 and 5, both from
  /// memory), which stay near multiples of chi squared where sizes differ. Of equal sizes they are the usual ones.
  Interval interval{0.0, 0.0};
};

/// A nested analysis of variance of values in groups of any sizes. Values are added one by one; what is kept grows with
/// the number of units, not of values.
class NestedGroups {
 public:
  explicit NestedGroups(std::size_t groups) : units_(groups) {}

  /// `names` from the outermost group to the innermost. A unit's name need be unique within its outer unit only.
  void add(std::span<const std::string_view> names, double value);

  std::uint64_t count() const { return all_.count(); }

  /// One for each group from the outermost, the last for the values within the innermost. Mean squares are equated to
  /// their expectations, E[SS_l] = SUM_(m >= l) s_m^2 (c_ml - c_m,l-1) with c_ml = SUM over units of l of (SUM over
  /// units of m in it of n^2) / n (S. R. Searle, Linear Models, 1971, ch. 11, from memory), and solved from the
  /// innermost outwards; with equal sizes that is the analysis of variance of the textbooks. Needs two values.
  std::vector<GroupVariance> variances() const;

  /// The variances as multiples of unweighted mean squares, which their intervals and those of their shares come from.
  ComponentsOfVariance components() const;

 private:
  struct Unit {
    std::size_t outer;
    Moments moments;
  };
  std::vector<std::map<std::pair<std::size_t, std::string>, std::size_t, std::less<>>> places_;
  std::vector<std::vector<Unit>> units_;
  Moments all_;
};

}  // namespace mintspread::statistics
