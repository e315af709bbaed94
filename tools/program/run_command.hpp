#pragma once

#include "tools/program/command_line.hpp"

namespace mintspread::program {

/// `mintspread run`: simulates each coin, or takes its result from the store, and writes what is asked for.
/// Returns 0 when every target is met, 1 when one is missed, 130 or 143 when interrupted.
int run_command(const Request& request);

}  // namespace mintspread::program
