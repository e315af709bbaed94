#pragma once

#include <cstddef>
#include <vector>

namespace mintspread::signature {

/// Points and weights of a sum that stands for an integral over [0, infinity).
struct Points {
  std::vector<double> nodes, weights;
};

/// Variable in which the polynomials of a Gauss rule are taken: t = (k^p - a^p) / (k^p + a^p), from -1 at k = 0 to 1 at
/// infinity.
struct Map {
  double exponent;  ///< p
  double scale;     ///< a, in the unit of k
};

/// Gauss rules of growing order for a positive weight that is known at many points, by the discretised Stieltjes
/// procedure in Lanczos' form with full reorthogonalisation (Gautschi, Orthogonal Polynomials, 2004, section 2.2; Golub
/// & Welsch, Math. Comp. 23, 221, 1969). Exact for polynomials in t of degree 2 n - 1 against the discrete weight.
class GaussFamily {
 public:
  /// `weight` has positive weights only and at least as many points as the largest order asked for.
  GaussFamily(const Points& weight, Map map);

  /// The rule of `order` nodes, ascending. Orders may be asked for in any sequence; each step is computed once.
  Points rule(std::size_t order);

 private:
  void extend(std::size_t order);

  Map map_;
  double total_ = 0.0;
  std::vector<double> positions_;           ///< t of each point
  std::vector<std::vector<double>> basis_;  ///< orthonormal polynomials times sqrt(weight)
  std::vector<double> diagonal_, next_;     ///< Jacobi matrix; next_[j] couples j and j + 1
};

}  // namespace mintspread::signature
