#pragma once

#include "tools/program/command_line.hpp"

namespace mintspread::program {

/// Does what is asked for and returns the exit status. Results go to standard output, all else to standard error.
int execute(const Request& request);

}  // namespace mintspread::program
