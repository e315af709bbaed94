#pragma once

#include <cstdint>
#include <span>

namespace mintspread::statistics {

/// Count, mean and central moments up to the fourth of the values seen so far; mergeable. A span is taken about its own
/// mean (two passes), then merged by the pairwise formulas of P. Pebay, Sandia report SAND2008-6212 (2008); for the
/// variance Chan, Golub & LeVeque, Am. Stat. 37, 242 (1983). The result depends on the order of the calls, never on
/// anything else.
class Moments {
 public:
  /// All values finite.
  void add(std::span<const double> values);
  void merge(const Moments& later);

  std::uint64_t count() const { return count_; }
  double mean() const { return mean_; }
  double m2() const { return m2_; }  ///< sum of squared deviations
  double m3() const { return m3_; }
  double m4() const { return m4_; }
  double variance() const;  ///< divisor n - 1; 0 for one value
  double sd() const;
  double skewness() const;         ///< m3/n over (m2/n)^1.5; 0 without spread
  double excess_kurtosis() const;  ///< m4/n over (m2/n)^2, less 3; 0 without spread

 private:
  std::uint64_t count_ = 0;
  double mean_ = 0.0, m2_ = 0.0, m3_ = 0.0, m4_ = 0.0;
};

}  // namespace mintspread::statistics
