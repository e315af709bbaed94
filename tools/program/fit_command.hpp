#pragma once

#include "tools/program/command_line.hpp"

namespace mintspread::program {

/// `mintspread fit`: reads a column of measurements, fits the shapes of the grammar to it and tells them.
int fit_command(const Request& request);

}  // namespace mintspread::program
