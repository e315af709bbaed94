#pragma once

#include <array>
#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "engine/base/aligned.hpp"
#include "engine/signature/disc_banded.hpp"
#include "engine/signature/disc_section.hpp"

namespace mintspread::signature {

/// How finely a solution is made. Elements grow with their distance from the places where the field changes fast: the
/// edges of metals, where its scale is the skin depth or the thickness of a layer, and the coils, where it is the gap.
struct DiscMeshing {
  std::size_t order;           ///< of the polynomials
  double growth;               ///< length of an element over the local scale of the field
  double edge_scale;           ///< scale beside an edge, over the smallest skin depth, ...
  double largest_edge_scale;   ///< ... but at most this, over the coin's radius: corners of magnetic metal are sharp at
                               ///< any frequency ...
  double smallest_edge_scale;  ///< ... and at least this
  double far_wall;             ///< over the outer radius of coin and coils
  double pole_spacing;         ///< of the interpolation points in z, natural logarithm
};

/// (exp(-p z1) - exp(-p z2)) / p of a coil between z1 and z2 above the plane it looks at.
double axial_spectrum(const DiscCoil& coil, double p);

/// Piecewise polynomials phi_i of r on [0, far wall]: two hats shared by neighbours and integrated Legendre polynomials
/// inside each element. phi = 0 on the axis and at the wall.
class DiscRadial {
 public:
  DiscRadial(const DiscSection& section, std::span<const DiscCoil> coils, std::complex<double> s,
             const DiscMeshing& meshing);

  std::size_t size() const { return size_; }
  /// Largest wave number that the finest element resolves, 1/m: modes in z beyond are not worth being exact.
  double largest_wave_number() const { return largest_wave_number_; }

  /// INT phi_i phi_j r / mu_r dr in one kind of slab. An empty profile is air.
  BandedReal mass(std::span<const std::size_t> profile) const;
  /// INT (phi_i' + phi_i / r) (phi_j' + phi_j / r) r / mu_r dr.
  BandedReal stiffness(std::span<const std::size_t> profile) const;
  /// INT conductivity phi_i phi_j r dr.
  BandedReal conductance(std::span<const std::size_t> profile) const;
  /// INT_inner^outer phi_i r dr.
  AlignedReals moments(double inner, double outer) const;

  struct Element {
    double left, right;
    bool inverse;  ///< r is the reciprocal of a linear function: for fields that fall as powers of 1/r
    std::size_t order;
    std::size_t interval;          ///< between the section's radii; beyond the last: air
    std::ptrdiff_t first_unknown;  ///< of order + 1; those outside [0, size) are the hats left out
    AlignedReals mass, stiffness;  ///< lower halves by rows, for permeability 1
  };
  const std::vector<Element>& elements() const { return elements_; }
  /// An element with its ends elsewhere.
  Element moved(const Element& element, double left, double right) const;
  /// The part of INT_inner^outer (SUM y_i phi_i) r dr in one element.
  std::complex<double> moment(const Element& element, double inner, double outer,
                              std::span<const std::complex<double>> y) const;
  /// The metal of an element in one kind of slab, or DiscSection::air.
  static std::size_t metal(const Element& element, std::span<const std::size_t> profile) {
    return element.interval < profile.size() ? profile[element.interval] : DiscSection::air;
  }

 private:
  static void integrate(Element& element);
  template <class Function>
  void over_winding(const Element& element, double inner, double outer, const Function& f) const;
  void add_elements(double left, double right, std::size_t interval, std::size_t order, double growth);
  template <class Weight>
  BandedReal assemble(AlignedReals Element::*part, const Weight& weight) const;
  double scale_at(double r) const;

  const DiscSection& section_;
  std::span<const DiscCoil> coils_;
  double edge_scale_ = 0.0;
  std::vector<Element> elements_;
  std::size_t size_ = 0, width_ = 0;
  double largest_wave_number_ = 0.0;
};

}  // namespace mintspread::signature
