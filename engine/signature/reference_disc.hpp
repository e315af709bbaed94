#pragma once

#include <complex>
#include <span>
#include <vector>

#include "engine/signature/disc.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// Mutual inductances (H) of two coils, or of a coil with itself when there is one, over a reference piece that has a
/// diameter, at each complex frequency; `gap` of a coil from the piece's face on its side. NaN where the disc could not
/// be solved. A piece of several layers breaks the contract: check_sensor refuses it.
std::vector<std::complex<double>> reference_disc_couplings(const ReferencePiece& piece, std::span<const DiscCoil> coils,
                                                           std::span<const std::complex<double>> s);

}  // namespace mintspread::signature
