#include "engine/coin/coin_block.hpp"

#include <algorithm>
#include <limits>
#include <utility>

namespace mintspread::coin {

using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

// Comparisons are written so that NaN fails them.
template <class Possible>
void require(std::span<double> diameter, std::span<const double> value, Possible possible) {
  for (std::size_t i = 0; i < diameter.size(); ++i) {
    diameter[i] = possible(value[i]) ? diameter[i] : std::numeric_limits<double>::quiet_NaN();
  }
}

constexpr double largest = std::numeric_limits<double>::max();
constexpr auto positive = [](double value) { return value > 0.0 && value <= largest; };
constexpr auto not_negative = [](double value) { return value >= 0.0 && value <= largest; };
constexpr auto finite = [](double value) { return value >= -largest && value <= largest; };

}  // namespace

CoinBlock::CoinBlock(Construction construction, std::size_t lanes)
    : construction_(std::move(construction)), columns_(construction_.metals.size() * per_metal + per_piece, lanes) {
  std::ranges::fill(piece(Piece::weight), 1.0);
}

void add_up(CoinBlock& block) {
  const auto volume = block.piece(Piece::volume);
  const auto mass = block.piece(Piece::mass);
  std::ranges::fill(volume, 0.0);
  std::ranges::fill(mass, 0.0);
  for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
    const auto part = block.of(metal, Of::volume);
    const auto density = block.of(metal, Of::density);
    for (std::size_t i = 0; i < block.lanes(); ++i) {
      volume[i] += part[i];
      mass[i] += part[i] * density[i];
    }
  }
}

void mark_impossible(CoinBlock& block) {
  const auto diameter = block.piece(Piece::diameter);
  const auto rim_width = block.piece(Piece::rim_width);
  require(diameter, diameter, positive);
  for (std::size_t i = 0; i < block.lanes(); ++i) {
    if (!(rim_width[i] >= 0.0 && 2.0 * rim_width[i] < diameter[i])) {
      diameter[i] = std::numeric_limits<double>::quiet_NaN();
    }
  }
  require(diameter, block.piece(Piece::field_thickness), positive);
  require(diameter, block.piece(Piece::rim_height_up), not_negative);
  require(diameter, block.piece(Piece::rim_height_down), not_negative);
  require(diameter, block.piece(Piece::mass), positive);
  require(diameter, block.piece(Piece::face_thinning), [](double value) { return value > 0.0 && value <= 1.0; });
  require(diameter, block.piece(Piece::rim_thinning), positive);
  const std::size_t core = block.construction().core;
  require(diameter, block.of(core, Of::face_thickness), positive);
  for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
    require(diameter, block.of(metal, Of::face_thickness), not_negative);
    require(diameter, block.of(metal, Of::rim_thickness), not_negative);
    require(diameter, block.of(metal, Of::volume), not_negative);
    require(diameter, block.of(metal, Of::conductivity), not_negative);
    require(diameter, block.of(metal, Of::permeability), positive);
    require(diameter, block.of(metal, Of::density), positive);
    require(diameter, block.of(metal, Of::temperature_coefficient), finite);
  }
}

}  // namespace mintspread::coin
