#pragma once

#include "specs/context.hpp"
#include "specs/materials.hpp"

namespace mintspread::specs {

/// Reads the checked key `section` into the model, and runs the engine's own check of the nominal piece when all of it
/// could be read.
void read_section(const Node& section, const Handbook& handbook, Context& context);

}  // namespace mintspread::specs
