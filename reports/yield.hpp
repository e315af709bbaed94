#pragma once

#include "engine/study/result.hpp"
#include "reports/page_table.hpp"
#include "reports/paper.hpp"

namespace mintspread::reports {

/// What the sorts of the route did and what metal a million finished or accepted pieces take; nothing where the route
/// has none.
void write_yield(Paper& paper, const study::Result& result);

/// Of a result whose route sorts.
PageTable yield_table(const study::Result& result);

}  // namespace mintspread::reports
