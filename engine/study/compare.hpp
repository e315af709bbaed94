#pragma once

#include "engine/study/result.hpp"
#include "engine/study/study.hpp"

namespace mintspread::study {

/// Differences of means, standard deviations and fractions accepted: Student's t over the replicates of run(), or over
/// batches of plain draws as large. Fractions where fewer than 20 pieces change sides: Clopper-Pearson bounds at 97.5
/// % for the pieces that only the one and only the other accepts, which together hold at least 95 %.
Comparison compare(const Study& first, const Study& second, const RunOptions& options);

}  // namespace mintspread::study
