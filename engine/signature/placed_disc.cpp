#include "engine/signature/placed_disc.hpp"

#include <algorithm>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/materials/conductor.hpp"

namespace mintspread::signature {

namespace {

using Of = coin::CoinBlock::Of;
using Piece = coin::CoinBlock::Piece;

class Lane {
 public:
  Lane(const coin::CoinBlock& coins, std::size_t lane, double temperature)
      : coins_(coins), lane_(lane), temperature_(temperature) {}

  double of(std::size_t metal, Of what) const { return coins_.of(metal, what)[lane_]; }
  double piece(Piece what) const { return coins_.piece(what)[lane_]; }
  DiscMetal metal(std::size_t metal) const {
    return {
        materials::conductivity_at(of(metal, Of::conductivity), of(metal, Of::temperature_coefficient), temperature_),
        of(metal, Of::permeability)};
  }
  /// On one face or both, and on the rim.
  DiscLayer layer(std::size_t metal_of_layer, bool up, bool down) const {
    const double face = of(metal_of_layer, Of::face_thickness);
    const double above = up ? face : 0.0, below = down ? face : 0.0;
    return {above, below, of(metal_of_layer, Of::rim_thickness), above, below, metal(metal_of_layer)};
  }

 private:
  const coin::CoinBlock& coins_;
  std::size_t lane_;
  double temperature_;
};

}  // namespace

PlacedDisc place_disc(const coin::CoinBlock& coins, std::size_t lane, const SlotColumns& slot, Rest rest, bool reversed,
                      std::span<const MountedCoil> coils, std::span<const double> recess) {
  expect(coils.size() == recess.size(), "one recess a coil");
  const Lane at(coins, lane, slot.temperature[lane]);
  const auto& construction = coins.construction();
  auto section = construction.section;
  if (reversed) std::ranges::reverse(section);
  const auto core = std::ranges::find(section, construction.core);
  expect(core != section.end(), "the core is part of the section");
  // From the core outwards, as they were plated.
  std::vector<std::size_t> up(section.begin(), core);
  std::ranges::reverse(up);
  const std::vector<std::size_t> down(core + 1, section.end());

  double height_up = at.piece(Piece::rim_height_up), height_down = at.piece(Piece::rim_height_down);
  if (reversed) std::swap(height_up, height_down);
  PlacedDisc placed{{at.piece(Piece::diameter),
                     at.piece(Piece::field_thickness),
                     at.piece(Piece::rim_width),
                     height_up,
                     height_down,
                     at.metal(construction.core),
                     {}},
                    {}};
  for (std::size_t depth = std::max(up.size(), down.size()); depth-- > 0;) {
    const bool has_up = depth < up.size(), has_down = depth < down.size();
    if (has_up && has_down && up[depth] == down[depth]) {
      placed.disc.layers.push_back(at.layer(up[depth], true, true));
      continue;
    }
    if (has_up) placed.disc.layers.push_back(at.layer(up[depth], true, false));
    if (has_down) placed.disc.layers.push_back(at.layer(down[depth], false, true));
  }

  const double resting = slot.play[lane], other = slot.width[lane] - resting - at.piece(Piece::thickness);
  for (std::size_t i = 0; i < coils.size(); ++i) {
    const bool near = (rest == Rest::above) == (coils[i].side == Side::above);
    placed.coils.push_back({coils[i].coil, coils[i].side, (near ? resting : other) + recess[i]});
  }
  return placed;
}

}  // namespace mintspread::signature
