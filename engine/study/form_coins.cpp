#include "engine/study/form_coins.hpp"

#include <utility>
#include <variant>

#include "engine/route/form.hpp"

namespace mintspread::study {

coin::Construction construction_of(const Coin& coin) {
  return std::visit([](const auto& made) { return route::construction_of(made); }, coin);
}

void form_coins(const Coin& coin, const Columns& inputs, coin::CoinBlock& coins) {
  std::visit([&](const auto& made) { route::form(made, inputs, coins); }, coin);
}

void form_corners(const Coin& coin, Columns& inputs, coin::CoinBlock& coins) {
  form_coins(coin, inputs, coins);
  const auto diameter = std::as_const(coins).piece(coin::CoinBlock::Piece::diameter);
  bool changed = false;
  for (std::size_t lane = 1; lane < inputs.lanes(); ++lane) {
    if (diameter[lane] > 0.0) continue;
    for (std::size_t i = 0; i < inputs.count(); ++i) inputs[i][lane] = inputs[i][0];
    changed = true;
  }
  if (changed) form_coins(coin, inputs, coins);
}

}  // namespace mintspread::study
