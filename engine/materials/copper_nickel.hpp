#pragma once

#include <array>
#include <cstddef>
#include <span>
#include <vector>

namespace mintspread::materials {

/// Part of the mass that copper is, from the part of the atoms.
double copper_by_mass(double atoms);

/// Resistivity of annealed copper-nickel at 20 C, ohm m, by the part of atoms that is copper. Ho, Ackerman, Wu, Havill,
/// Bogaard, Matula, Oh & James, J. Phys. Chem. Ref. Data 12, 183 (1983), as the CRC Handbook prints it, from memory, at
/// 293 K; between its rows a monotone cubic.
double copper_nickel_resistivity(double copper);

/// Curie point, K, by the part of atoms that is copper: 356 C for nickel (public tables: 354 to 358 C), falling 10.5 K
/// for each at.% of copper (public figures, from memory: 10.4 to 11), so that above 32 at.% nothing is magnetic at 20
/// C.
double copper_nickel_curie_point(double copper);

/// (mu_r - 1) at 20 C over that of the nickel: the distance of the Curie point from 20 C over nickel's, 0 below. That
/// it falls evenly is a modelling choice; its end is published.
double copper_nickel_magnetism(double copper);

/// Properties of a metal as a layer has them, at 20 C.
struct Properties {
  double conductivity, permeability, temperature_coefficient;
};

/// One sublayer of a blurred boundary.
struct Sublayer {
  double of_nickel, of_copper;  ///< m of the one and of the other layer that it takes the place of
  Properties metal;
  double thickness() const { return of_nickel + of_copper; }
};

/// The boundary of a nickel and a copper layer after they diffused into each other, as sublayers, from the nickel to
/// the copper. The boundary reaches as far as the diffusion: nickel_reach sqrt(INT D dt of copper in nickel) into the
/// nickel, copper_reach sqrt(INT D dt of nickel in copper) into the copper, or to where the copper layer is sealed (its
/// surface, or the middle between two blurred boundaries). Compositions come from a table of Couple's solution over the
/// ratio of the two coefficients (that of the whole anneal) and the depth of the copper; the nickel must be deeper than
/// its side reaches.
///
/// A field that changes little across the boundary sees moments: INT f x^n dx of permeability and conductivity. Where
/// the alloy is magnetic, three sublayers have its permeability's moments up to n = 4 and its conductivity's up to 2;
/// where it is not, two sublayers have its conductivity's up to 2. INT dx / mu is right as well. What the layers' own
/// resistivities have beyond the pure metals' (grain, additives, recovery) is shared by composition (Matthiessen's
/// rule), as is the change of resistivity with temperature.
class BlurredBoundary {
  struct Row;  ///< where in a row of the table a figure stands
  static constexpr std::size_t row = 44;

 public:
  static constexpr double nickel_reach = 8.0, copper_reach = 6.0;
  static constexpr double most_spread =
      1.5;  ///< sqrt(INT D dt) of nickel in copper is this part of the copper's depth at most
  static constexpr std::size_t magnetic_cells = 3, other_cells = 2, cells = magnetic_cells + other_cells;

  /// The one there is, made on first use (some 0.1 s).
  static const BlurredBoundary& usual();

  /// Composition across a boundary, whatever else the two metals have.
  class Profile {
    friend class BlurredBoundary;
    double nickel_unit, copper_side;
    alignas(32) std::array<double, row> figures;
  };

  /// `in_copper` and `in_nickel` are INT D dt of the dilute other metal, m2; `copper_depth` is what the copper layer
  /// offers to this boundary, m. False, and nothing written, where the copper is all but mixed (depth under 2/3
  /// sqrt(in_copper)).
  bool diffuse(double in_copper, double in_nickel, double copper_depth, Profile& to) const;

  /// Writes `cells` sublayers. False, and nothing written, where the nickel (`nickel_depth` of it, m) is too thin for
  /// its side.
  bool cut(const Profile& profile, double nickel_depth, const Properties& nickel, const Properties& copper,
           std::span<Sublayer> out) const;

 private:
  BlurredBoundary();
  std::vector<double> values_;  ///< rows by depth and ratio
};

}  // namespace mintspread::materials
