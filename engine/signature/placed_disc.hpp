#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "engine/coin/coin_block.hpp"
#include "engine/signature/disc.hpp"
#include "engine/signature/placed_stack.hpp"

namespace mintspread::signature {

/// One coin of a block as the finite disc sees it, in its slot.
struct PlacedDisc {
  Disc disc;
  std::vector<DiscCoil> coils;  ///< in the sensor's order
};

/// The coin of one lane, at the temperature of the slot, and how far the coils are from its outermost planes, as
/// PlacedStack places it: the rim lies against one wall at a distance of `play`. `recess` (m) has one number a coil.
///
/// Layers are taken from the core outwards, pair by pair; a metal that stands at the same depth on both faces is one
/// layer about the whole coin, with its own thickness on the rim. Two metals of a pair are two layers, each on its
/// face, and both on the rim. A rim's tops carry the plating of the field: the block knows no other. What cannot exist
/// (disc_fault) is passed on as it is.
PlacedDisc place_disc(const coin::CoinBlock& coins, std::size_t lane, const SlotColumns& slot, Rest rest, bool reversed,
                      std::span<const MountedCoil> coils, std::span<const double> recess);

}  // namespace mintspread::signature
