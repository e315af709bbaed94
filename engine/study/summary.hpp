#pragma once

#include <vector>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"
#include "engine/study/tally.hpp"

namespace mintspread::study {

/// What a result says before any piece is drawn: the nominal coin, its impedances and channels, inputs and criteria.
Result nominal_result(const Study::Prepared& study);

enum class Intervals {
  none,
  of_independent_pieces  ///< each figure by the method that Result::methods names
};

/// Fills in the figures of a run.
void add_figures(const Study::Prepared& study, const Tally& tally, Intervals intervals, Result& result);

/// Replaces the intervals of `result`, whose figures are those of all replicates together, by Student's t over the
/// replicates' own figures. Fractions that rest on fewer than 200 pieces of the rarer kind keep Clopper-Pearson's
/// interval, which Sobol' points only make cautious: too few replicates see such pieces for a spread between them.
void add_replicate_intervals(std::vector<Result>& replicates, Result& result);

/// The range of every figure over results of the outer draws becomes its band in `result`.
void add_bands(std::vector<Result>& outer, Result& result);

/// Decides the targets by the figures of `result`.
void decide_targets(const Study::Prepared& study, Result& result);

}  // namespace mintspread::study
