#pragma once

#include "specs/context.hpp"

namespace mintspread::specs {

/// Warns of the gauges in `context.gauged` that read other layers of the piece together with the one their data are
/// taken for, naming them. To be called when the route or section is read without a finding.
void warn_of_layers_read_together(Context& context);

}  // namespace mintspread::specs
