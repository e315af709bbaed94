#pragma once

#include "specs/context.hpp"
#include "specs/tree.hpp"

namespace mintspread::specs {

/// Reads the checked key `groups` into the model, behind `piece` and `reading`.
void read_groups(const Node& groups, Context& context);

/// Reads the checked key `correlations`: paths must be those of inputs that vary, each pair once.
void read_correlations(const Node& correlations, Context& context);

}  // namespace mintspread::specs
