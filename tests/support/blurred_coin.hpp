#pragma once

#include <cmath>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "tests/reference/planar_referee.hpp"

namespace mintspread::support {

/// Sublayers of a boundary, none where it cannot be cut.
inline std::vector<materials::Sublayer> cut(const materials::BlurredBoundary& boundary, double in_quick, double in_slow,
                                            double quick_depth, double slow_depth, const materials::Properties& slow,
                                            const materials::Properties& quick) {
  materials::BlurredBoundary::Profile profile;
  std::vector<materials::Sublayer> sublayers(materials::BlurredBoundary::cells);
  if (!boundary.diffuse(in_quick, in_slow, quick_depth, profile) ||
      !boundary.cut(profile, slow_depth, slow, quick, sublayers))
    return {};
  return sublayers;
}

/// Reflected field of a small coil, up to a factor: weight of a ring of some 3.5 mm at 0.4 mm.
inline reference::Complex reading(const std::vector<reference::Layer>& layers, double frequency) {
  const reference::Stacks stacks(layers, 0.0);
  const reference::Complex s(0.0, 2.0 * pi * frequency);
  reference::Complex sum = 0.0;
  for (double k = 50.0; k < 3000.0; k += 50.0) {
    const double ring = std::sin(k * 3.5e-3) * std::exp(-k * 0.4e-3);
    sum += ring * ring * reference::response(signature::Coupling::reflected, s, k, stacks.block(), 0);
  }
  return sum;
}

}  // namespace mintspread::support
