#pragma once

#include <string>

#include "specs/grammar.hpp"

namespace mintspread::specs {

/// JSON Schema (draft-07) of one kind of file, from the tables the reader checks by: for completion and descriptions in
/// editors. It accepts whatever the reader accepts; units, levels and sums are the reader's alone.
std::string schema(FileKind kind);

}  // namespace mintspread::specs
