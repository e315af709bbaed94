#pragma once

#include "specs/context.hpp"
#include "specs/materials.hpp"

namespace mintspread::specs {

/// Reads the checked key `route` into the model, and runs the engine's own check of the nominal piece when all of it
/// could be read.
void read_route(const Node& route, const Handbook& handbook, Context& context);

}  // namespace mintspread::specs
