#pragma once

#include <span>
#include <string>
#include <vector>

#include "specs/context.hpp"
#include "specs/grammar.hpp"
#include "specs/tree.hpp"

namespace mintspread::specs {

/// An override with its path split and its text kept as a source named "--set PATH".
struct ParsedOverride {
  std::string path;
  std::vector<std::string> parts;
  const Source* source;
  Node value;
};

/// Reads the texts of all overrides; those that are no YAML are reported and left out.
std::vector<ParsedOverride> parse_overrides(std::span<const Override> overrides, const std::string& directory,
                                            Context& context);

/// Which file a path leads to. Keys of a gauge file follow the path of the quantity that names it:
/// "bath.copper.thickness.data.gauge.repeatability".
FileKind file_of(const ParsedOverride& override);

/// Replaces the value at a path, or adds a key that the grammar knows, in the tree of one file of several of a kind
/// (`trees`; the one that holds the nearest part of the path is changed). An unknown path is reported with the nearest
/// known one.
void apply_override(const ParsedOverride& override, FileKind kind, std::span<Node* const> trees, Context& context);

/// Changes the tree of the gauge file that `path` names by those of the context's overrides that lead into it.
void apply_gauge_overrides(const std::string& path, Node& root, Context& context);

/// Reports the overrides of gauge files that nothing names.
void report_gauge_overrides(Context& context);

}  // namespace mintspread::specs
