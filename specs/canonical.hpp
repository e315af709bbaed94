#pragma once

#include <map>
#include <span>
#include <string>

#include "specs/tree.hpp"

namespace mintspread::specs {

/// The trees of all files, overrides applied, as one JSON text: keys sorted, runs of blanks in values as one, no
/// comments. Paths of includes are left out, since what they lead to is in; measured data stand in by their digests
/// (`tables`, by path of the quantity).
std::string canonical_text(const Node& coin, const Node& sensor, std::span<const Node* const> windows,
                           std::span<const Node* const> materials, const std::map<std::string, std::string>& tables);

}  // namespace mintspread::specs
