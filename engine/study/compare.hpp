#pragma once

#include "engine/study/result.hpp"
#include "engine/study/study.hpp"

namespace mintspread::study {

/// Mean and standard deviation: Student's t over 32 batches of pieces. Fractions accepted: Clopper-Pearson bounds
/// at 97.5 % for the pieces that only the one and only the other accepts, which together hold at least 95 %.
Comparison compare(const Study& first, const Study& second, const RunOptions& options);

}  // namespace mintspread::study
