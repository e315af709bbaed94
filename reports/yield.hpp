#pragma once

#include "engine/study/result.hpp"
#include "reports/page_table.hpp"
#include "reports/paper.hpp"

namespace mintspread::reports {

/// What the sorts of the route did and what metal a million finished pieces take; nothing where the route has none.
void write_yield(Paper& paper, const study::Result& result);

PageTable yield_table(const study::YieldResult& yield);

}  // namespace mintspread::reports
