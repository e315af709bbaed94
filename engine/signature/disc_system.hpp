#pragma once

#include <complex>
#include <memory>
#include <span>
#include <vector>

#include "engine/base/aligned.hpp"
#include "engine/signature/disc.hpp"
#include "engine/signature/disc_radial.hpp"
#include "engine/signature/disc_slab.hpp"
#include "engine/signature/disc_split.hpp"

namespace mintspread::signature {

/// Modes of the air, K v = p^2 M v with V^T M V = 1; matrices column by column.
struct DiscAir {
  AlignedReals p;
  AlignedReals modes;       ///< V
  AlignedReals mass_modes;  ///< M V
  AlignedReals admittance;  ///< M V P (M V)^T

  explicit DiscAir(const DiscRadial& radial);
};

/// What a coil sends to the plane of the coin it looks at: modes alpha = mu0 w / (2 p).
struct DiscCoilField {
  double density;           ///< turns per area of the winding
  AlignedReals projection;  ///< V^T f, f = INT phi r dr over the winding
  AlignedReals spectrum;    ///< w
  AlignedReals source;      ///< mu0 M V w: right-hand side at the coin's plane

  DiscCoilField(const DiscCoil& coil, const DiscRadial& radial, const DiscAir& air);
};

/// Radial matrices of one kind of slab.
struct DiscProfile {
  BandedReal mass;
  BandedComplex stiffness;  ///< K + s mu0 S
  AlignedComplex metals;    ///< p of a plane wave in each

  DiscProfile(const DiscRadial& radial, const DiscSection& section, const std::vector<std::size_t>& metal_of,
              std::complex<double> s);

  BandedFactor factor(double pole) const;  ///< of K + s mu0 S + pole M
};

/// Admittance of a slab's faces: [own, across; across, own] acts on the potentials of both.
struct DiscTwoPort {
  SlabResponse even, odd;
  SplitMatrix own, across;

  DiscTwoPort(const DiscProfile& profile, double thickness, double largest, double spacing);
};

/// Everything of one solution on one mesh.
struct DiscSystem {
  DiscSystem(const Disc& disc, std::span<const DiscCoil> coils, std::complex<double> s, const DiscMeshing& meshing);
  DiscSystem(const DiscSystem&) = delete;
  DiscSystem& operator=(const DiscSystem&) = delete;

  std::span<const DiscCoil> coils;
  std::complex<double> s;
  DiscSection section;
  DiscRadial radial;
  DiscAir air;
  std::vector<DiscCoilField> fields;
  std::vector<DiscProfile> profiles;
  std::vector<std::shared_ptr<const DiscTwoPort>> ports;  ///< by slab; equal slabs share one
  std::vector<std::vector<AlignedComplex>> potentials;    ///< by level from the top, then by drive coil

  std::size_t level_of(const DiscCoil& coil) const { return coil.side == Side::above ? 0 : ports.size(); }
  double thickness(std::size_t slab) const { return section.levels[slab].at - section.levels[slab + 1].at; }

 private:
  void make_ports(const DiscMeshing& meshing);
  void solve();
};

}  // namespace mintspread::signature
