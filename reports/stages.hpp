#pragma once

#include "engine/study/result.hpp"
#include "reports/page_table.hpp"
#include "reports/paper.hpp"

namespace mintspread::reports {

/// How readings on the way and blanks go together with the finished coin, which part is accepted at which reading, and
/// the windows that secure it; nothing where the route has no such reading.
void write_stages(Paper& paper, const study::Result& result);

PageTable stages_table(const study::Result& result);

}  // namespace mintspread::reports
