#pragma once

#include <cstdint>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// Pieces that the spread of impedances and decays rests on: enough for a drawing.
inline constexpr std::uint64_t bare_pieces = 4096;

/// Fills in how far production spreads the impedances and decay voltages behind the channels: plain draws of the first
/// pieces about the nominal centres, conditions as drawn, before scale, noise and rounding. Intervals of 95 % by normal
/// theory (that of a standard deviation with the measured kurtosis, that of a correlation by Fisher). Rows of unsolved
/// pieces are left out.
void add_bare_spread(const Study::Prepared& study, std::uint64_t seed, Result& result);

}  // namespace mintspread::study
