#pragma once

#include <complex>
#include <cstddef>
#include <vector>

#include "engine/signature/disc_system.hpp"

namespace mintspread::signature {

/// What multiplies a change of the element matrices in the derivative: SUM mass : dM_e + stiffness : dK_e, elements in
/// order, lower halves by rows as the elements have them.
struct ElementWeights {
  AlignedComplex mass, stiffness;

  explicit ElementWeights(const DiscRadial& radial);

  /// Adds the forms x^T dM y and x^T dK y, each with its weight.
  void add(const DiscRadial& radial, std::complex<double> of_mass, std::complex<double> of_stiffness,
           const AlignedComplex& x, const AlignedComplex& y);
};

/// Calls f(position in the lists, unknown of the row, unknown of the column) for all entries.
template <class Function>
void at_entries(const DiscRadial& radial, const Function& f) {
  std::size_t start = 0;
  for (const auto& element : radial.elements()) {
    const std::size_t count = element.order + 1;
    for (std::size_t i = 0; i < count; ++i)
      for (std::size_t j = 0; j <= i; ++j) {
        const std::ptrdiff_t row = element.first_unknown + static_cast<std::ptrdiff_t>(i);
        const std::ptrdiff_t column = element.first_unknown + static_cast<std::ptrdiff_t>(j);
        if (column < 0 || row >= static_cast<std::ptrdiff_t>(radial.size())) continue;
        f(start + i * count + j, static_cast<std::size_t>(row), static_cast<std::size_t>(column));
      }
    start += count * count;
  }
}

/// Derivative of b2^T T^-1 b1 less the part in air, for one pair of coils, in parts.
struct DiscSensitivity {
  std::vector<ElementWeights> weights;  ///< by profile; the last is the air
  AlignedComplex lengths;               ///< by what moves levels
  AlignedComplex left, right;           ///< by what moves the ends of elements within windings
  AlignedComplex gaps;
};

/// Tells such derivatives of lengths and metals: metals enter through the element matrices of their rings, radii as a
/// motion of the mesh.
class MeshGradient {
 public:
  /// `system` must outlive this.
  MeshGradient(const DiscSystem& system, std::size_t layers);

  DiscGradient of(const DiscSensitivity& sensitivity) const;

 private:
  void add_radii(const AlignedComplex& left, const AlignedComplex& right, AlignedComplex& lengths) const;

  const DiscSystem& system_;
  std::size_t layers_;
  /// d mass, d stiffness of each element when its left or right end moves.
  struct Change {
    AlignedReals left_mass, left_stiffness, right_mass, right_stiffness;
  };
  std::vector<Change> changes_;
};

}  // namespace mintspread::signature
