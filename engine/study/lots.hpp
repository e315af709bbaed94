#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <stop_token>
#include <string>
#include <vector>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

struct LotOptions {
  std::uint64_t seed = 1;
  std::string group;  ///< group that is a lot; empty: the largest group that is not part of another
  std::size_t lots = 200;
  std::size_t loads_a_lot = 12;         ///< at most; as many as a lot holds
  std::size_t places_a_load = 8;        ///< at most, of 64 pieces that follow each other
  std::vector<double> rates = {};       ///< rejected fractions whose chances are asked for beside the usual ones
  std::uint64_t component_rows = 8192;  ///< of ShareOptions, for the components by group
  std::size_t threads = 0;
  std::stop_token stop;
};

/// What is wrong with the group asked for; nothing when a lot can be told.
std::optional<Problem> check(const LotOptions& options, const ProductionModel& model);

/// Nested design: production in its order (production_order.hpp), all pieces of a unit of a group share its draw,
/// drifts take their course. Lots are independent: no two share a unit, and each is from a plant of its own where units
/// take turns. Of every lot, some loads (units of the largest group that is part of it, or equal parts) are looked at,
/// and of every load pieces at places spread over it. So the rejected fraction of a lot carries the sampling error of
/// pieces_a_lot pieces and of the small groups that no place fell into. Intervals count lots, not pieces. The
/// components of every channel by group come from the flat design (shares.hpp). Fills Result::lots. Throws
/// InvalidSpecification for what check() says, and where the lots are more pieces than can be drawn.
void add_lots(const Study::Prepared& study, const LotOptions& options, Result& result);

}  // namespace mintspread::study
