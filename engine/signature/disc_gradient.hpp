#pragma once

#include <cstddef>
#include <vector>

#include "engine/signature/disc_system.hpp"

namespace mintspread::signature {

/// Derivatives of all mutual inductances of a solved system, pair by pair, row by row.
///
/// The system T a = b is symmetric and M = (2 pi / mu0) b2^T a1 less the part in air, so that
///   dM = (2 pi / mu0) (db2^T a1 + a2^T db1 - a2^T dT a1) - d(part in air)
/// needs no further solution. Lengths along z stretch a slab's functions of z, in which Galerkin's method is stationary
/// (the exact dY/dd = (K - Y M^-1 Y) / 2 of either parity loses the small effect of a thick slab in cancellation);
/// metals enter through the element matrices of their rings; radii as a motion of the mesh, with the modes of the air
/// and what coils send through them differentiated as functions of the radial operator (divided differences; Daleckii &
/// Krein).
std::vector<DiscGradient> disc_gradients(const DiscSystem& system, std::size_t layers);

}  // namespace mintspread::signature
