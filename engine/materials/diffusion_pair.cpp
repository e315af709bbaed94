#include "engine/materials/diffusion_pair.hpp"

#include <math.h>  // Boost 1.74's pchip calls isnan without its namespace

#include <algorithm>
#include <boost/math/interpolators/pchip.hpp>
#include <cmath>
#include <memory>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/materials/deposition.hpp"

namespace mintspread::materials {

namespace {

double mole_of(const std::string& element) {
  const auto mass = molar_mass(element);
  expect(mass.has_value(), "a pair is of elements whose molar mass is known");
  return *mass;
}

}  // namespace

double log_ratio(const DiffusionPair& pair, double temperature) {
  return std::log(pair.in_slow.at(temperature) / pair.in_quick.at(temperature));
}

DiffusionPair turned(DiffusionPair pair) {
  std::swap(pair.slow, pair.quick);
  std::swap(pair.in_slow, pair.in_quick);
  std::ranges::reverse(pair.parts);
  std::ranges::reverse(pair.resistivities);
  for (double& part : pair.parts) part = 1.0 - part;
  return pair;
}

double part_of_mass(const DiffusionPair& pair, double atoms) {
  const double quick = atoms * mole_of(pair.quick);
  return quick / (quick + (1.0 - atoms) * mole_of(pair.slow));
}

double part_of_atoms(const DiffusionPair& pair, double mass) {
  const double quick = mass / mole_of(pair.quick);
  return quick / (quick + (1.0 - mass) / mole_of(pair.slow));
}

std::function<double(double)> resistivity_of(const DiffusionPair& pair) {
  const auto table = std::make_shared<const boost::math::interpolators::pchip<std::vector<double>>>(
      std::vector<double>(pair.parts), std::vector<double>(pair.resistivities));
  return [table, slow = mole_of(pair.slow), quick = mole_of(pair.quick)](double atoms) {
    const double part = std::clamp(atoms, 0.0, 1.0);
    return (*table)(std::min(1.0, part * quick / (part * quick + (1.0 - part) * slow)));
  };
}

double magnetism(const DiffusionPair& pair, double atoms) {
  return pair.magnetic_until > 0.0 ? std::max(0.0, 1.0 - atoms / pair.magnetic_until) : 0.0;
}

const DiffusionPair& copper_and_nickel() {
  static const DiffusionPair pair = [] {
    DiffusionPair made{"Ni", "Cu", copper_in_nickel, nickel_in_copper, 0.32, {}, {}};
    // % of mass and uohm cm. The pure metals, 6.93 and 1.676, from memory like the rest.
    for (const double part : {0, 1, 5, 10, 15, 25, 30, 40, 50, 60, 70, 80, 85, 90, 95, 99, 100})
      made.parts.push_back(0.01 * part);
    for (const double resistivity : {6.93, 8.08, 12.50, 17.82, 23.35, 35.11, 41.79, 47.73, 50.05, 45.38, 36.72, 25.66,
                                     19.83, 13.89, 7.71, 2.85, 1.676})
      made.resistivities.push_back(1e-8 * resistivity);
    return made;
  }();
  return pair;
}

}  // namespace mintspread::materials
