#pragma once

#include <cstddef>
#include <string>

#include "specs/source.hpp"

namespace mintspread::specs {

/// Says in the user's words why the text is no YAML. yaml-cpp tells the place where it lost the thread, which is often
/// not the place to mend: an unclosed bracket is reported where it opens (`open_bracket`, npos when none is open), a
/// missing blank after a colon in its own line. `line` and `column` count from 0; both are -1 when unknown.
void report_yaml_fault(const Source& source, int line, int column, const std::string& message, std::size_t open_bracket,
                       Findings& findings);

}  // namespace mintspread::specs
