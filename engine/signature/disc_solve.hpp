#pragma once

#include <complex>
#include <span>

#include "engine/signature/disc.hpp"
#include "engine/signature/disc_radial.hpp"

namespace mintspread::signature {

/// One solution on one mesh; no checks, no error. See disc.hpp.
DiscSolution solve_on_mesh(const Disc& disc, std::span<const DiscCoil> coils, std::complex<double> s,
                           const DiscMeshing& meshing, bool gradient);

}  // namespace mintspread::signature
