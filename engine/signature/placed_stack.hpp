#pragma once

#include <cstdint>
#include <span>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/signature/planar.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// Conditions of a slot in every lane: m, K.
struct SlotColumns {
  std::span<const double> width, play, temperature;
};

/// Coins lying in a slot: what coils on either side see of them. Buffers of one thread.
///
/// The rim rests against one wall at a distance of `play`; the field, which the coils see, lies deeper than the rim by
/// the rim height of its face. So the field's distance from the wall is
///     wall it rests on:  play + rim height of the face there
///     other wall:        width - play - rim-to-rim thickness + rim height of the face there
/// and a coil's distance from the field is that plus its recess. From both together follows that the distances through
/// the coin do not depend on where it lies.
class PlacedStack {
 public:
  PlacedStack(const coin::Construction& construction, std::size_t lanes);

  /// `reversed` has 1 in lanes with the reverse up; empty: obverse up in all. `coins` must outlive what is read from
  /// here.
  void place(const coin::CoinBlock& coins, const SlotColumns& slot, Rest rest, std::span<const std::uint8_t> reversed);

  /// Layers from the face that looks at this side on, at the temperature of the slot.
  std::span<const LayerColumns> seen_from(Side side) const { return side == Side::above ? downwards_ : upwards_; }

  /// Distance as PlanarBlock has it. NaN in unsolved lanes.
  void distance(Side drive, std::span<const double> drive_recess, Side receive, std::span<const double> receive_recess,
                std::span<double> out) const;

  /// 1 where there is no coin, it does not fit the slot, play is negative, or a property or temperature is impossible.
  std::span<const std::uint8_t> unsolved() const { return unsolved_; }

  std::size_t lanes() const { return columns_.lanes(); }

 private:
  std::span<double> conductivity(std::size_t metal) { return columns_[2 + metal]; }
  std::span<const double> to_field(Side side) const { return columns_[side == Side::above ? 0 : 1]; }

  std::vector<std::size_t> section_;  ///< metals from the obverse down
  bool symmetrical_;                  ///< the section reads the same from both faces
  Columns columns_;  ///< wall to field above, below; conductivity of each metal; layers when sides are mixed
  std::size_t first_mixed_;
  std::vector<std::uint8_t> unsolved_;
  std::vector<LayerColumns> downwards_, upwards_;
};

}  // namespace mintspread::signature
