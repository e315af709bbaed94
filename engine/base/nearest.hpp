#pragma once

#include <span>
#include <string>
#include <string_view>

namespace mintspread {

/// The word of `known` that `word` was probably meant to be: the fewest letters added, left out, changed or swapped
/// with their neighbour, no more than a third of the longer word's letters. Capitals count as small letters. Empty when
/// nothing is that near; the first of `known` where several are equally near.
std::string_view nearest(std::string_view word, std::span<const std::string> known);

}  // namespace mintspread
