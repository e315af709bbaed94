#pragma once

#include <Eigen/Core>
#include <cmath>
#include <vector>

#include "engine/signature/disc_system.hpp"

namespace mintspread::signature {

/// A function of x = p^2 and its derivative, at one mode.
struct AtMode {
  double value, slope;
};

inline AtMode axial(const DiscCoil& coil, double p) {
  const double near = coil.gap, far = coil.gap + coil.coil.length;
  const double value = axial_spectrum(coil, p);
  return {value, ((far * std::exp(-p * far) - near * std::exp(-p * near)) / p - value / p) / (2.0 * p)};
}

/// g_i g_j / p of two coils: their mutual inductance in air by modes.
inline AtMode direct(const DiscCoil& one, const DiscCoil& other, double p) {
  const AtMode a = axial(one, p), b = axial(other, p);
  const double value = a.value * b.value / p;
  return {value, (a.slope * b.value + a.value * b.slope) / p - value / (2.0 * p * p)};
}

/// Values of a function at all modes, and how it changes with the operator: f[x_k, x_l] (divided difference), and the
/// same of x f.
class OperatorFunction {
 public:
  template <class Function>
  OperatorFunction(const AlignedReals& p, const Function& function) {
    std::vector<AtMode> at;
    for (const double one : p) at.push_back(function(one));
    const auto n = static_cast<Eigen::Index>(p.size());
    values.resize(n);
    difference.resize(n, n);
    difference_of_product.resize(n, n);
    for (Eigen::Index l = 0; l < n; ++l) {
      const auto two = static_cast<std::size_t>(l);
      values[l] = at[two].value;
      for (Eigen::Index k = 0; k <= l; ++k) {
        const auto one = static_cast<std::size_t>(k);
        const double x = p[one] * p[one], y = p[two] * p[two];
        const double slope = std::abs(x - y) > 1e-4 * (x + y) ? (at[one].value - at[two].value) / (x - y)
                                                              : 0.5 * (at[one].slope + at[two].slope);
        difference(k, l) = difference(l, k) = slope;
        difference_of_product(k, l) = difference_of_product(l, k) =
            0.5 * (at[one].value + at[two].value) + 0.5 * (x + y) * slope;
      }
    }
  }
  Eigen::VectorXd values;
  Eigen::MatrixXd difference, difference_of_product;
};

}  // namespace mintspread::signature
