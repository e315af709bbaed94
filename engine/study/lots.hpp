#pragma once

#include <cstddef>
#include <cstdint>
#include <stop_token>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

struct LotOptions {
  std::uint64_t seed = 1;
  std::string group;  ///< group that is a lot; empty: the largest group that is not part of another
  std::size_t lots = 200;
  std::size_t loads_a_lot = 12;   ///< at most; as many as a lot holds
  std::size_t blocks_a_load = 2;  ///< of block_lanes pieces
  std::size_t threads = 0;
  std::stop_token stop;
};

/// Nested design: production in its order, lot after lot. Piece p belongs to unit p / (pieces of the group) of every
/// group, so that groups nest or cross as their sizes say, and all pieces of a unit share its draw. Of every lot, some
/// loads (units of the largest group that is part of it) are looked at, and of every load consecutive pieces from a
/// random place on. Only figures about lots come from it; intervals count lots, not pieces. Fills Result::lots. Throws
/// InvalidSpecification when the specification states no groups, or not the one asked for.
void add_lots(const Study::Prepared& study, const LotOptions& options, Result& result);

}  // namespace mintspread::study
