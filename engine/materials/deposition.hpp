#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace mintspread::materials {

/// Faraday constant, C/mol: N_A e with the values fixed by the SI brochure, 9th edition, table 1 (6.02214076e23 /mol x
/// 1.602176634e-19 C).
inline constexpr double faraday_constant = 6.02214076e23 * 1.602176634e-19;

/// One element of a metal, and the charge of the ion it is deposited from.
struct Constituent {
  std::string element;  ///< symbol: "Cu"
  double part = 1.0;    ///< of the mass
  int valence = 0;      ///< electrons for one atom; 0 where nothing is said about deposition
};

/// kg/mol of the elements that mints plate, strike and alloy: IUPAC's standard atomic weights, abridged, from memory.
/// Nothing for another symbol.
std::optional<double> molar_mass(std::string_view element);

/// Symbols that molar_mass() knows.
std::vector<std::string> known_elements();

/// Charge that deposits a kilogram, C/kg: F SUM part n / M, Faraday's laws element by element. Nothing where an element
/// is not known or has no valence.
std::optional<double> charge_for_mass(std::span<const Constituent> metal);

}  // namespace mintspread::materials
