#pragma once

#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/materials/interdiffusion.hpp"

namespace mintspread::materials {

/// What is known of two elements that dissolve into each other in every proportion: how they diffuse, and what their
/// alloys are at 20 C. `slow` is the one in which the other diffuses more slowly, at every temperature from
/// coldest_diffusion to hottest_diffusion; compositions tell the part that is `quick`.
struct DiffusionPair {
  std::string slow, quick;      ///< symbols of elements that molar_mass() knows
  Arrhenius in_slow, in_quick;  ///< of the other metal, dilute, in each
  /// Part of atoms up to which `slow` stays magnetic at 20 C; 0 where it is not magnetic. `quick` never is.
  double magnetic_until = 0.0;
  /// Rows of the alloys' resistivity at 20 C, ohm m, by the part of the mass; from 0 to 1, four at least.
  std::vector<double> parts, resistivities;

  bool is_of(std::string_view one, std::string_view other) const {
    return (one == slow && other == quick) || (one == quick && other == slow);
  }
};

/// Between which the coefficients of a pair are asked for, K.
inline constexpr double coldest_diffusion = 773.15, hottest_diffusion = 1393.15;

/// ln of the coefficient in `slow` over the one in `quick`.
double log_ratio(const DiffusionPair& pair, double temperature);

/// The same pair with the parts of its two metals exchanged, but for what is magnetic.
DiffusionPair turned(DiffusionPair pair);

/// Part of the mass that is `quick`, from the part of atoms, and back.
double part_of_mass(const DiffusionPair& pair, double atoms);
double part_of_atoms(const DiffusionPair& pair, double mass);

/// Resistivity of the alloys at 20 C, ohm m, by the part of atoms: a monotone cubic over the part of the mass.
std::function<double(double)> resistivity_of(const DiffusionPair& pair);

/// (mu_r - 1) at 20 C over that of `slow` alone, by the part of atoms: falls evenly to nothing at `magnetic_until`, as
/// the distance of a Curie point that falls evenly does. That it falls evenly is a modelling choice.
double magnetism(const DiffusionPair& pair, double atoms);

/// Copper and nickel, with the coefficients above. Resistivity: Ho, Ackerman, Wu, Havill, Bogaard, Matula, Oh & James,
/// J. Phys. Chem. Ref. Data 12, 183 (1983), as the CRC Handbook prints it, from memory, at 293 K. Curie point: 356 C
/// for nickel (public tables: 354 to 358 C), falling 10.5 K for each at.% of copper (public figures, from memory: 10.4
/// to 11), so that above 32 at.% nothing is magnetic at 20 C.
const DiffusionPair& copper_and_nickel();

}  // namespace mintspread::materials
