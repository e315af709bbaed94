#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"

namespace mintspread::statistics {

/// Sums of one batch of rows of a pick-freeze design for one output and one group of inputs. A and B are two
/// independent sets of rows, AB is A with the columns of the group taken from B.
class PickFreezeSums {
 public:
  /// Outputs of the same rows. Rows with a NaN in any of the three are left out.
  void add(std::span<const double> a, std::span<const double> b, std::span<const double> ab);
  void merge(const PickFreezeSums& later);

  std::uint64_t rows() const { return outputs_.count() / 2; }
  double variance() const { return outputs_.variance(); }  ///< of A and B together
  double first_order() const;                              ///< from f(B) - f(AB): precise where the share is large
  double first_order_as_part() const;  ///< from f(B) times f(AB) - f(A): precise where the share is small
  double total() const;

 private:
  Moments outputs_;
  double from_b_ = 0.0;   ///< sum of (f(B) - f(AB))^2
  double from_a_ = 0.0;   ///< sum of (f(A) - f(AB))^2
  double product_ = 0.0;  ///< sum of f(B) (f(AB) - f(A))
  double change_ = 0.0;   ///< sum of f(AB) - f(A)
};

struct ShareEstimate {
  double value;
  Interval interval;
};

/// Part of the variance that a group of inputs causes alone (first order) and with all its interactions (total).
struct VarianceShare {
  ShareEstimate first_order, total;
};

/// Jansen's estimators, S = 1 - sum (f(B) - f(AB))^2 / (2 n V) and T = sum (f(A) - f(AB))^2 / (2 n V)
/// (M. J. W. Jansen, Comput. Phys. Commun. 117, 35 (1999)), with delete-one-batch jackknife intervals of Student's t
/// (B. Efron & C. Stein, Ann. Stat. 9, 586 (1981)). For S, sum (f(B) - mean) (f(AB) - f(A)) / (n V) instead (A.
/// Saltelli et al., Comput. Phys. Commun. 181, 259 (2010), centred) where its interval is narrower, as it is for small
/// shares. At least two batches. Estimates may be negative: that is sampling error, and shown. An output without
/// variance has shares of zero.
VarianceShare variance_share(std::span<const PickFreezeSums> batches, double confidence);

}  // namespace mintspread::statistics
