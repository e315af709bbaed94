#pragma once

#include "specs/context.hpp"
#include "specs/tree.hpp"

namespace mintspread::specs {

/// Reads the sorts of a checked `route` into the model, whose other steps and whose sensor are read already.
void read_sorts(const Node& route, Context& context);

}  // namespace mintspread::specs
