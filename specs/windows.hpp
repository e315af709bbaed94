#pragma once

#include <optional>
#include <string>

#include "specs/context.hpp"
#include "specs/tree.hpp"
#include "specs/unit.hpp"

namespace mintspread::specs {

/// Reads the checked tree of a windows file into the model: one window set a class, its limits in the units of the
/// channels. `sensor` is the tree of the sensor file, null where there is none to hold channels against.
void read_windows(const Node& root, const Node* sensor, Context& context);

/// `a .. b`, `>= a` or `<= b` in `unit`; `dimension` is nothing where only pure numbers are allowed. A finding at
/// `path` otherwise.
std::optional<study::Limits> read_limits(const Node& node, const Unit& unit, const std::optional<Dimension>& dimension,
                                         const std::string& path, Context& context);

/// Reads `targets` of the coin file; `windows_known` is false where a windows file could not be read.
void read_targets(const Node& targets, bool windows_known, Context& context);

}  // namespace mintspread::specs
