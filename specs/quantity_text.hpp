#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "specs/number.hpp"
#include "specs/unit.hpp"

namespace mintspread::specs {

// The short form of a quantity, as text alone: what was written, before its meaning for one input is decided.

/// A number with the unit written behind it.
struct WrittenNumber {
  double value = 0;
  MeasuredUnit measured;
  bool has_unit = false;
  std::size_t at = 0;       ///< byte of the number
  std::size_t unit_at = 0;  ///< byte of the unit, or where it is missing
};

enum class WrittenSpread { none, symmetric, two_sided, range };

/// `18 um`, `18 um +/- 2 um`, `18 um +3/-1 um`, `16 .. 20 um`, each with `per LEVEL`. Without a value: `+/- 2 um`,
/// `+3/-1 um`.
struct QuantityText {
  std::optional<WrittenNumber> value;  ///< of a range: its lower end
  WrittenSpread spread = WrittenSpread::none;
  WrittenNumber tolerance;  ///< symmetric: the half width; two-sided: the upper deviation; range: the upper end
  WrittenNumber below;      ///< two-sided: the lower deviation, as a positive number
  std::string level;
  std::size_t level_at = 0;
  std::string head;  ///< the text without `per LEVEL`, single blanks
};

std::variant<QuantityText, TextFault> quantity_text(std::string_view text);

/// An amount of spread or a distance between limits: absolute in SI, or a fraction of the nominal value.
struct Stretch {
  double size = 0;
  bool relative = false;
};

/// What a tolerance, a standard deviation or an edge means beside a value in `unit`: `%` is a fraction of the value,
/// unless the value is itself in `%`: then it is percentage points. A difference of temperatures has no zero point.
std::variant<Stretch, TextFault> stretch_of(const WrittenNumber& written, const MeasuredUnit& unit);

/// SI value of a number in a unit, zero point included.
double to_si(double value, const Unit& unit);

}  // namespace mintspread::specs
