#pragma once

#include <cmath>

#include "engine/base/constants.hpp"

namespace mintspread::materials {

/// Conductivity (S/m) at `temperature` (K) from that at 20 C: resistivity is linear, rho = rho20 (1 + alpha (T - 20
/// C)), alpha in 1/K. NaN where the line has left physics (resistivity zero or negative).
inline double conductivity_at(double conductivity_20, double alpha, double temperature) {
  const double factor = 1.0 + alpha * (temperature - reference_temperature);
  return factor > 0 ? conductivity_20 / factor : std::nan("");
}

/// Fraction of the International Annealed Copper Standard: 1 is 100 % IACS, 58.0 MS/m at 20 C.
inline double iacs_fraction(double conductivity) { return conductivity / iacs_conductivity; }

/// Depth (m) at which a plane wave in a thick conductor has fallen to 1/e: sqrt(2 / (w mu0 mu_r conductivity)).
inline double skin_depth(double conductivity, double relative_permeability, double frequency) {
  return 1.0 / std::sqrt(pi * frequency * mu0 * relative_permeability * conductivity);
}

}  // namespace mintspread::materials
