#pragma once

#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

/// Adds what cannot be computed to `problems`, and what can be computed but is probably not what was meant to
/// `warnings`. Looks at the order of the steps and at the nominal piece: lane 0 of `nominal`, one column an input, as
/// many lanes as a block has.
void check(const Route& route, const Columns& nominal, std::vector<Problem>& problems, std::vector<Problem>& warnings);
void check(const Section& section, const Columns& nominal, std::vector<Problem>& problems,
           std::vector<Problem>& warnings);

}  // namespace mintspread::route
