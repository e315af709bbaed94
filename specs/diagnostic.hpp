#pragma once

#include <stdexcept>
#include <string>
#include <vector>

namespace mintspread::specs {

/// A place in a file, or in the text of an override (`file` is then "--set PATH"). Line and column count from 1,
/// columns in characters.
struct Place {
  std::string file;
  int line = 0, column = 0;  ///< 0: the whole file, the whole line
};

enum class Severity { error, warning };

/// One thing the user has to change, or should know.
struct Diagnostic {
  Place place;
  std::string path;         ///< "bath.copper.thickness"; empty where the text is no value of a specification
  std::string what;         ///< what is wrong and why it matters
  std::string remedy;       ///< what to do; may be empty
  std::string source_line;  ///< the line of the place; may be empty
  Severity severity = Severity::error;
};

enum class Colour { none, ansi };

/// `file:line:col: error: path: what. remedy`, then the source line and a caret under the place; lines end with '\n'.
/// Control characters of the user's text are shown as U+FFFD, long lines are cut to the part around the place.
std::string render(const Diagnostic& diagnostic, Colour colour);

/// A specification that cannot be read; carries every problem found, in the order of files, lines and columns, and the
/// warnings among them.
class RejectedSpecification : public std::runtime_error {
 public:
  explicit RejectedSpecification(std::vector<Diagnostic> found)
      : std::runtime_error(found.empty() ? "rejected specification" : found.front().what),
        diagnostics(std::move(found)) {}
  std::vector<Diagnostic> diagnostics;
};

}  // namespace mintspread::specs
