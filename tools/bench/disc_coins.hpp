#pragma once

#include <vector>

#include "engine/signature/disc.hpp"

namespace mintspread::bench {

/// Struck sections like those of the example specifications, all invented, 22 mm with a raised rim: three platings, two
/// of nickel and copper, two of brass, one of nickel, none. Platings on the rim are thicker than on the faces.
inline std::vector<signature::Disc> disc_coins() {
  const auto coin = [](signature::DiscMetal core, std::vector<signature::DiscLayer> layers) {
    return signature::Disc{22e-3, 1.51e-3, 0.9e-3, 0.13e-3, 0.11e-3, core, std::move(layers)};
  };
  const signature::DiscMetal steel{6.7e6, 113}, nickel{13e6, 58}, copper{55e6, 1}, brass{16e6, 1}, white{3.05e6, 1};
  using signature::DiscLayer;
  return {coin(steel, {DiscLayer::wrapped(6e-6, 9.6e-6, nickel), DiscLayer::wrapped(22e-6, 45e-6, copper),
                       DiscLayer::wrapped(5e-6, 8e-6, nickel)}),
          coin(steel, {DiscLayer::wrapped(10e-6, 14e-6, nickel), DiscLayer::wrapped(15e-6, 30e-6, copper)}),
          coin(steel, {DiscLayer::wrapped(25e-6, 40e-6, brass)}),
          coin(steel, {DiscLayer::wrapped(25e-6, 40e-6, nickel)}), coin(white, {})};
}

/// The example slot's face coil, pickup and far coil, and a coil about the rim on either side.
inline std::vector<signature::DiscCoil> disc_coils() {
  using signature::Side;
  const signature::Coil rim{9.5e-3, 12.5e-3, 2e-3, 120};
  return {{{2e-3, 5e-3, 2e-3, 200}, Side::below, 0.34e-3},
          {{2e-3, 5e-3, 1e-3, 150}, Side::below, 2.54e-3},
          {{2e-3, 5e-3, 2e-3, 200}, Side::above, 1.11e-3},
          {rim, Side::below, 0.34e-3},
          {rim, Side::above, 1.11e-3}};
}

}  // namespace mintspread::bench
