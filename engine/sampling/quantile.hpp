#pragma once

#include <memory>
#include <span>

#include "engine/sampling/distribution.hpp"

namespace mintspread::sampling {

/// A shape prepared for drawing: its quantile function, monotone, one uniform or one normal score a value, and its
/// moments. Copies share the prepared tables. The result in a lane depends on the argument in that lane only.
///
/// Shapes without a closed form (Student t, curvilinear trapezoid, smoothed data, mixtures) are tabulated as
/// polynomials in the normal score over [-8.5, 8.5], which covers all 53-bit uniforms; scores beyond (probability
/// 2e-17) are taken as the ends. The tables hold the probability of either tail to 1e-9 relative, checked when built
/// (ContractBroken if missed).
class Quantile {
 public:
  /// The shape has no flaw.
  explicit Quantile(const Shape& shape);

  /// Exact moments of what is drawn; infinite or NaN where the distribution has none (Student t with few degrees of
  /// freedom).
  double mean() const;
  double sd() const;
  Support support() const;

  /// out[i] = quantile at u[i], 0 < u < 1. The spans have one size and may be the same.
  void from_uniform(std::span<const double> u, std::span<double> out) const;
  /// out[i] = quantile at Phi(z[i]), full relative accuracy in both tails. The spans have one size and may be the same.
  void from_normal_score(std::span<const double> z, std::span<double> out) const;

  class Form;

 private:
  std::shared_ptr<const Form> form_;
};

}  // namespace mintspread::sampling
