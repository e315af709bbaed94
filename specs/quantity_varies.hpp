#pragma once

#include <optional>
#include <string>
#include <vector>

#include "specs/statement.hpp"

namespace mintspread::specs {

struct FurtherComponent {
  study::Component component;
  std::string words;  ///< without its level
};

/// The key `varies`, one component or a list of them, about a nominal value in its unit; each is a spread alone.
std::optional<std::vector<FurtherComponent>> read_varies(const Node& node, double nominal, const MeasuredUnit& unit,
                                                         const StatementReader& reader);

}  // namespace mintspread::specs
