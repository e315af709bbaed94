#pragma once

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
  double thickness;
  Properties metal;
};

/// The boundary of a nickel and a copper layer after they diffused into each other, as sublayers, from the nickel to
/// the copper. Widths follow the diffusion: the nickel side reaches nickel_reach sqrt(INT D dt of copper in nickel)
/// from the first boundary, the copper side copper_reach sqrt(INT D dt of nickel in copper), or to where the copper
/// layer is sealed (its surface, or the middle between two blurred boundaries). Compositions come from a table of
/// Couple's solution over the ratio of the two coefficients (that of the whole anneal) and the depth of the copper; the
/// nickel must be deeper than its side reaches.
///
/// A sublayer conducts as its composition does on average over its thickness, and is magnetic likewise; its neighbours
/// take a little from each other, so that the boundary holds what it holds where it holds it (first moments). What the
/// layers' own resistivities have beyond the pure metals' (grain, additives, recovery) is shared by composition
/// (Matthiessen's rule), as is the change of resistivity with temperature.
class BlurredBoundary {
 public:
  static constexpr double nickel_reach = 8.0, copper_reach = 6.0;
  static constexpr double most_spread =
      1.5;  ///< sqrt(INT D dt) of nickel in copper is this part of the copper's depth at most
  static constexpr std::size_t nickel_cells = 4, copper_cells = 4, cells = nickel_cells + copper_cells;

  /// The one there is, made on first use (some 0.3 s).
  static const BlurredBoundary& usual();

  /// Writes `cells` sublayers. `in_copper` and `in_nickel` are INT D dt of the dilute other metal, m2; `copper_depth`
  /// and `nickel_depth` what each layer offers to this boundary, m. False, and nothing written, where the nickel is too
  /// thin for its side or the copper is all but mixed (depth under 2/3 sqrt(in_copper)).
  bool fill(double in_copper, double in_nickel, double copper_depth, double nickel_depth, const Properties& nickel,
            const Properties& copper, std::span<Sublayer> out) const;

 private:
  BlurredBoundary();
  std::vector<double> values_;  ///< by depth and ratio: reach of what is not magnetic, then by figure and cell
};

}  // namespace mintspread::materials
