#pragma once

#include <optional>
#include <string>

#include "specs/quantity.hpp"

namespace mintspread::specs {

// Values without spread.

/// An input without spread that nobody wrote down: a default.
study::Input constant_input(const QuantityRule& rule, const std::string& path, const std::string& step, double value,
                            const Unit& unit, const std::string& understood);

/// A number with its unit and no spread, and the unit; SI.
struct Constant {
  double value;
  Unit unit;
};
std::optional<Constant> read_constant(const Node& node, const QuantityRule& rule, const std::string& path,
                                      Context& context);

/// A number without unit.
std::optional<double> read_number(const Node& node, const std::string& path, Context& context);

}  // namespace mintspread::specs
