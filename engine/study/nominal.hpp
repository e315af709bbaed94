#pragma once

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// What a result says before any piece is drawn: the nominal coin, its impedances and channels, inputs and criteria.
Result nominal_result(const Study::Prepared& study);

}  // namespace mintspread::study
