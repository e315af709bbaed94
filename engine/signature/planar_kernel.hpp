#pragma once

#include <complex>
#include <span>

#include "engine/signature/planar.hpp"

namespace mintspread::signature {

/// mutual_inductance on the processor's vectors; lanes are a multiple of 8. Bit-equal on AVX2 and AVX-512: the same
/// operations in the same order in every lane, divisions and roots correctly rounded, no sums across lanes.
void solve_block(const PlanarRule& rule, std::span<const std::complex<double>> s, const PlanarBlock& block,
                 Columns& out);

/// Highway's name of the instruction set that solve_block uses here.
const char* vector_target();

}  // namespace mintspread::signature
