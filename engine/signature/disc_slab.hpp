#pragma once

#include <complex>
#include <span>
#include <vector>

#include "engine/signature/disc_banded.hpp"

namespace mintspread::signature {

/// What a slab of thickness 2 h answers to fields that are even or odd about its middle, as a rational function of the
/// radial operator Q = M^-1 K:  M p tanh(p h) or M p coth(p h), p^2 = Q, becomes
///   a M + b K - M [SUM weight (K + pole M)^-1] M.
/// Galerkin's method in z with the exact solutions at chosen p as functions: the result agrees with the exact function
/// and its slope at each p^2 chosen, and its poles are real and negative as the exact ones are.
struct SlabResponse {
  double mass = 0.0, stiffness = 0.0;
  struct Pole {
    double at, weight;
  };
  std::vector<Pole> poles;
};

enum class Parity { even, odd };

/// Chosen are p = 0, those of `metals` (sqrt(s mu conductivity), a plane wave in each metal of the slab), and real ones
/// from 1.2 / h to `largest`, each exp(`spacing`) times the one before.
SlabResponse slab_response(double thickness, Parity parity, std::span<const std::complex<double>> metals,
                           double largest, double spacing);

}  // namespace mintspread::signature
