#pragma once

#include <string>

namespace mintspread::program {

/// Hexadecimal digits that change with every change of the program's code, compiler or flags: the linker's hash of it.
std::string build_identity();

}  // namespace mintspread::program
