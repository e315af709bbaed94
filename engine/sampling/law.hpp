#pragma once

#include <memory>
#include <vector>

#include "engine/sampling/distribution.hpp"

namespace mintspread::sampling {

/// A probability told from both ends, so that neither tail loses digits: lower + upper = 1.
struct TwoSided {
  double lower, upper;
};

/// Distribution function and quantiles of one shape, value by value: exact, slow, used when a study is prepared.
class Law {
 public:
  virtual ~Law() = default;

  virtual double below(double x) const = 0;  ///< P(X < x), full relative accuracy
  virtual double above(double x) const = 0;  ///< P(X > x), full relative accuracy
  // Different from the two above where single values have a probability of their own.
  virtual double up_to(double x) const { return below(x); }
  virtual double from(double x) const { return above(x); }

  /// Smallest x with P(X <= x) >= p; both sides of p in (0, 1).
  virtual double quantile(TwoSided p) const = 0;

  virtual double mean() const = 0;
  virtual double sd() const = 0;
  virtual Support support() const = 0;
  /// Values where the quantile function is not smooth: joints of the density, ends, single values with probability.
  virtual std::vector<double> joints() const { return {}; }
  /// Absolute error of below() and above() beyond a few units in their last place: left by differences of
  /// probabilities.
  virtual double rounding() const { return 0.0; }
};

/// P(X in kept), the ends included.
double probability_in(const Law& law, Support kept);

/// The law of a shape without a flaw. A shape without spread gives the law of its single value.
std::unique_ptr<Law> law_of(const Shape& shape);

}  // namespace mintspread::sampling
