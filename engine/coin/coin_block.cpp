#include "engine/coin/coin_block.hpp"

#include <algorithm>
#include <limits>
#include <utility>

#include "engine/base/quad.hpp"

namespace mintspread::coin {

using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

// Comparisons are written so that NaN fails them.
constexpr double largest = std::numeric_limits<double>::max();
QuadMask positive(Quad value) { return (value > 0.0) & (value <= largest); }
QuadMask not_negative(Quad value) { return (value >= 0.0) & (value <= largest); }
QuadMask finite(Quad value) { return (value >= -largest) & (value <= largest); }

}  // namespace

CoinBlock::CoinBlock(Construction construction, std::size_t lanes)
    : construction_(std::move(construction)), columns_(construction_.metals.size() * per_metal + per_piece, lanes) {
  std::ranges::fill(piece(Piece::weight), 1.0);
}

void add_up(CoinBlock& block) {
  for (std::size_t lane = 0; lane < block.lanes(); lane += quad_lanes) {
    Quad volume = quad_of(0.0), mass = quad_of(0.0);
    for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
      const Quad part = load_quad(block.of(metal, Of::volume), lane);
      volume += part;
      mass += part * load_quad(block.of(metal, Of::density), lane);
    }
    store_quad(volume, block.piece(Piece::volume), lane);
    store_quad(mass, block.piece(Piece::mass), lane);
  }
}

void mark_impossible(CoinBlock& block) {
  const Quad nan = quad_of(std::numeric_limits<double>::quiet_NaN());
  for (std::size_t lane = 0; lane < block.lanes(); lane += quad_lanes) {
    const auto piece = [&](Piece what) { return load_quad(block.piece(what), lane); };
    const auto of = [&](std::size_t metal, Of what) { return load_quad(block.of(metal, what), lane); };
    const Quad diameter = piece(Piece::diameter), rim_width = piece(Piece::rim_width);
    const Quad face_thinning = piece(Piece::face_thinning);
    QuadMask possible = positive(diameter) & not_negative(rim_width) & (2.0 * rim_width < diameter);
    possible &= positive(piece(Piece::field_thickness)) & positive(piece(Piece::mass));
    possible &= not_negative(piece(Piece::rim_height_up)) & not_negative(piece(Piece::rim_height_down));
    possible &= positive(face_thinning) & (face_thinning <= 1.0) & positive(piece(Piece::rim_thinning));
    possible &= positive(of(block.construction().core, Of::face_thickness));
    for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
      for (const Of what : {Of::face_thickness, Of::rim_thickness, Of::volume, Of::conductivity}) {
        possible &= not_negative(of(metal, what));
      }
      possible &= positive(of(metal, Of::permeability)) & positive(of(metal, Of::density));
      possible &= finite(of(metal, Of::temperature_coefficient));
    }
    store_quad(possible ? diameter : nan, block.piece(Piece::diameter), lane);
  }
}

}  // namespace mintspread::coin
