#pragma once

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/study/model.hpp"

namespace mintspread::study {

coin::Construction construction_of(const Coin& coin);

/// Makes the pieces of a block by the model's route or section.
void form_coins(const Coin& coin, const Columns& inputs, coin::CoinBlock& coins);

/// The same for pieces at the corners of production: those that cannot be made are replaced by the nominal piece of
/// lane 0, in `inputs` too.
void form_corners(const Coin& coin, Columns& inputs, coin::CoinBlock& coins);

}  // namespace mintspread::study
