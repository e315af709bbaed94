#include "engine/signature/placed_stack.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/materials/conductor.hpp"

namespace mintspread::signature {
namespace {

using Of = coin::CoinBlock::Of;
using Piece = coin::CoinBlock::Piece;

}  // namespace

PlacedStack::PlacedStack(const coin::Construction& construction, std::size_t lanes)
    : section_(construction.section),
      symmetrical_(std::equal(section_.begin(), section_.end(), section_.rbegin())),
      columns_(2 + construction.metals.size() + (symmetrical_ ? 0 : 3 * section_.size()), lanes),
      first_mixed_(2 + construction.metals.size()),
      unsolved_(lanes),
      downwards_(section_.size()),
      upwards_(section_.size()) {}

void PlacedStack::place(const coin::CoinBlock& coins, const SlotColumns& slot, Rest rest,
                        std::span<const std::uint8_t> reversed) {
  const auto diameter = coins.piece(Piece::diameter), thickness = coins.piece(Piece::thickness);
  const auto height_up = coins.piece(Piece::rim_height_up), height_down = coins.piece(Piece::rim_height_down);
  const std::span<double> above = columns_[0], below = columns_[1];
  for (std::size_t lane = 0; lane < lanes(); ++lane) {
    const double at_rest = slot.play[lane], other = slot.width[lane] - slot.play[lane] - thickness[lane];
    const bool turned = !reversed.empty() && reversed[lane] != 0;
    above[lane] = (rest == Rest::above ? at_rest : other) + (turned ? height_down : height_up)[lane];
    below[lane] = (rest == Rest::below ? at_rest : other) + (turned ? height_up : height_down)[lane];
    const bool fits = at_rest >= 0 && other >= 0 && diameter[lane] > 0 && above[lane] >= 0 && below[lane] >= 0;
    unsolved_[lane] = fits ? 0 : 1;
  }
  for (const std::size_t metal : section_) {
    const auto at_20 = coins.of(metal, Of::conductivity), alpha = coins.of(metal, Of::temperature_coefficient);
    const auto layer = coins.of(metal, Of::face_thickness), permeability = coins.of(metal, Of::permeability);
    const std::span<double> warm = conductivity(metal);
    for (std::size_t lane = 0; lane < lanes(); ++lane) {
      warm[lane] = materials::conductivity_at(at_20[lane], alpha[lane], slot.temperature[lane]);
      const bool possible = warm[lane] >= 0 && layer[lane] >= 0 && permeability[lane] > 0;
      if (!possible) unsolved_[lane] = 1;
    }
  }

  const auto layer_of = [&](std::size_t metal) {
    return LayerColumns{coins.of(metal, Of::face_thickness), conductivity(metal), coins.of(metal, Of::permeability)};
  };
  const std::size_t count = section_.size();
  const bool all_reversed =
      !reversed.empty() && std::all_of(reversed.begin(), reversed.end(), [](auto r) { return r != 0; });
  const bool mixed = !all_reversed && std::any_of(reversed.begin(), reversed.end(), [](auto r) { return r != 0; });
  for (std::size_t i = 0; i < count; ++i) {
    const LayerColumns obverse = layer_of(section_[i]), reverse = layer_of(section_[count - 1 - i]);
    if (symmetrical_ || !mixed) {
      downwards_[i] = all_reversed ? reverse : obverse;
    } else {
      const std::span<double> to[] = {columns_[first_mixed_ + 3 * i], columns_[first_mixed_ + 3 * i + 1],
                                      columns_[first_mixed_ + 3 * i + 2]};
      for (std::size_t lane = 0; lane < lanes(); ++lane) {
        const LayerColumns& from = reversed[lane] != 0 ? reverse : obverse;
        to[0][lane] = from.thickness[lane];
        to[1][lane] = from.conductivity[lane];
        to[2][lane] = from.permeability[lane];
      }
      downwards_[i] = {to[0], to[1], to[2]};
    }
  }
  std::reverse_copy(downwards_.begin(), downwards_.end(), upwards_.begin());
}

void PlacedStack::distance(Side drive, std::span<const double> drive_recess, Side receive,
                           std::span<const double> receive_recess, std::span<double> out) const {
  const auto from_drive = to_field(drive), from_receive = to_field(receive);
  for (std::size_t lane = 0; lane < lanes(); ++lane) {
    const double sum = from_drive[lane] + drive_recess[lane] + from_receive[lane] + receive_recess[lane];
    const bool possible = unsolved_[lane] == 0 && drive_recess[lane] >= 0 && receive_recess[lane] >= 0;
    out[lane] = possible ? sum : std::numeric_limits<double>::quiet_NaN();
  }
}

}  // namespace mintspread::signature
