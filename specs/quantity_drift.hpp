#pragma once

#include <cstddef>
#include <optional>
#include <string>

#include "specs/statement.hpp"

namespace mintspread::specs {

struct DriftReading {
  study::Drift drift;
  std::string words;  ///< ", rising evenly over each die, then beginning anew"
};

/// The key `drift`: `falling over 12 barrel`. `spread` is whether the value has one to go through, `level` where it
/// varies.
std::optional<DriftReading> read_drift(const Node& node, bool spread, std::size_t level, const StatementReader& reader);

}  // namespace mintspread::specs
