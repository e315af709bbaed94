#pragma once

#include "engine/study/result.hpp"
#include "reports/paper.hpp"

namespace mintspread::reports {

/// What spreads each channel, how the windows are used, shares of variance and lots, as far as the result has them.
void write_budgets(Paper& paper, const study::Result& result);

}  // namespace mintspread::reports
