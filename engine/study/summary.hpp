#pragma once

#include <vector>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// The range of every figure over results of the outer draws becomes its band in `result`.
void add_bands(std::vector<Result>& outer, Result& result);

/// Decides the targets by the figures of `result`.
void decide_targets(const Study::Prepared& study, Result& result);

}  // namespace mintspread::study
