#include "engine/materials/deposition.hpp"

#include <algorithm>

namespace mintspread::materials {

namespace {

struct Element {
  std::string_view symbol;
  double grams_for_mole;
};

constexpr Element elements[] = {
    {"Ag", 107.87}, {"Al", 26.982}, {"Au", 196.97}, {"C", 12.011},  {"Cd", 112.41}, {"Co", 58.933}, {"Cr", 51.996},
    {"Cu", 63.546}, {"Fe", 55.845}, {"Mn", 54.938}, {"Mo", 95.95},  {"Ni", 58.693}, {"P", 30.974},  {"Pb", 207.2},
    {"Pd", 106.42}, {"Pt", 195.08}, {"Rh", 102.91}, {"Si", 28.085}, {"Sn", 118.71}, {"Ti", 47.867}, {"Zn", 65.38}};

}  // namespace

std::optional<double> molar_mass(std::string_view element) {
  const auto found = std::ranges::find(elements, element, &Element::symbol);
  if (found == std::end(elements)) return std::nullopt;
  return found->grams_for_mole * 1e-3;
}

std::vector<std::string> known_elements() {
  std::vector<std::string> symbols;
  for (const Element& element : elements) symbols.emplace_back(element.symbol);
  return symbols;
}

std::optional<double> charge_for_mass(std::span<const Constituent> metal) {
  double moles_of_charge = 0.0;
  for (const Constituent& one : metal) {
    const auto mass = molar_mass(one.element);
    if (!mass || one.valence <= 0) return std::nullopt;
    moles_of_charge += one.part * one.valence / *mass;
  }
  if (metal.empty()) return std::nullopt;
  return faraday_constant * moles_of_charge;
}

}  // namespace mintspread::materials
