#pragma once

#include <array>
#include <cstddef>
#include <span>

#include "engine/study/pipeline.hpp"

namespace mintspread::study {

/// What a criterion looks at in the block a pipeline holds: a channel's readings, or a relation's values.
std::span<const double> values_of(const Study::Prepared& study, std::size_t window, std::size_t criterion,
                                  const Pipeline& pipeline);

/// Which pieces of the block a pipeline holds meet every criterion of a window set. A piece without a value in one of
/// them does not.
std::array<bool, block_lanes> accepted_lanes(const Study::Prepared& study, std::size_t window,
                                             const Pipeline& pipeline);

/// Pieces of the block a pipeline holds that are accepted.
std::size_t accepted_pieces(const Study::Prepared& study, std::size_t window, const Pipeline& pipeline);

}  // namespace mintspread::study
