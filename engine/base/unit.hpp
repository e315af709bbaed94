#pragma once

#include <string>

namespace mintspread {

/// The unit a person uses for a quantity. value in the unit = (SI value) / scale - offset; spreads use the scale alone.
struct Unit {
  std::string name;     ///< as the user wrote it: "um", "% IACS", "counts"; empty for a pure number
  double scale = 1.0;   ///< SI value of one unit
  double offset = 0.0;  ///< 273.15 for degC

  double from_si(double value) const { return value / scale - offset; }
  double spread_from_si(double spread) const { return spread / scale; }
  bool operator==(const Unit&) const = default;
};

}  // namespace mintspread
