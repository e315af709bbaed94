#pragma once

#include <map>
#include <span>
#include <string>
#include <vector>

#include "engine/base/problem.hpp"
#include "engine/study/model.hpp"
#include "specs/diagnostic.hpp"
#include "specs/files.hpp"

namespace mintspread::specs {

/// `--set path=text`: replaces one value, or adds a key, before anything is checked.
struct Override {
  std::string path, text;
};

/// Where a value of the specification was read, and that line.
struct Located {
  Place place;
  std::string source_line;
};

/// A coin file with everything it includes, read, checked and in SI units.
struct Specification {
  study::ProductionModel model;
  std::string file;
  std::string canonical;  ///< everything read, overrides applied, as one JSON text with sorted keys and single blanks
  std::string hash;       ///< SHA-256 of `canonical`: the same for any order of keys, comments and spacing
  std::vector<Diagnostic> warnings;
  std::map<std::string, Located> places;  ///< by path
};

/// Reads the coin file at `path` (grammar: reference.md). Includes are found relative to the file that names them.
/// Throws RejectedSpecification with every problem found.
Specification read_specification(const std::string& path, std::span<const Override> overrides = {},
                                 const FileReader& files = disk_files());

/// Gives problems and warnings of the engine their file, line and column: the place of their path, or of the nearest
/// part of it that stands in a file.
std::vector<Diagnostic> place_problems(const Specification& specification, std::span<const Problem> problems,
                                       Severity severity = Severity::error);

}  // namespace mintspread::specs
