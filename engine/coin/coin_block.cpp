#include "engine/coin/coin_block.hpp"

#include <algorithm>
#include <utility>

namespace mintspread::coin {

CoinBlock::CoinBlock(Construction construction, std::size_t lanes)
    : construction_(std::move(construction)), columns_(construction_.metals.size() * per_metal + per_piece, lanes) {
  std::ranges::fill(piece(Piece::weight), 1.0);
}

}  // namespace mintspread::coin
