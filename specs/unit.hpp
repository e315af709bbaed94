#pragma once

#include <array>
#include <optional>
#include <string>
#include <string_view>
#include <variant>

#include "engine/base/unit.hpp"
#include "specs/number.hpp"

namespace mintspread::specs {

/// Powers of the base units of the SI that occur here, and of three things that are numbers to the SI but must not be
/// confused with numbers: plane angle, counts of a sensor, share of a piece's mass.
struct Dimension {
  enum Base { metre, kilogram, second, ampere, kelvin, mole, radian, count, mass_share, bases };
  std::array<int, bases> power{};
  bool operator==(const Dimension&) const = default;
};

namespace dimension {
inline constexpr Dimension pure{};
inline constexpr Dimension length{{1}};
inline constexpr Dimension area{{2}};
inline constexpr Dimension areal_mass{{-2, 1}};
inline constexpr Dimension mass{{0, 1}};
inline constexpr Dimension density{{-3, 1}};
inline constexpr Dimension time{{0, 0, 1}};
inline constexpr Dimension frequency{{0, 0, -1}};
inline constexpr Dimension current{{0, 0, 0, 1}};
inline constexpr Dimension temperature{{0, 0, 0, 0, 1}};
inline constexpr Dimension per_kelvin{{0, 0, 0, 0, -1}};
inline constexpr Dimension conductivity{{-3, -1, 3, 2}};
inline constexpr Dimension resistance{{2, 1, -3, -2}};
inline constexpr Dimension resistivity{{3, 1, -3, -2}};
inline constexpr Dimension diffusion_coefficient{{2, 0, -1}};
inline constexpr Dimension molar_energy{{2, 1, -2, 0, 0, -1}};
inline constexpr Dimension voltage{{2, 1, -3, -1}};
inline constexpr Dimension angle{{0, 0, 0, 0, 0, 0, 1}};
inline constexpr Dimension counts{{0, 0, 0, 0, 0, 0, 0, 1}};
inline constexpr Dimension mass_share{{0, 0, 0, 0, 0, 0, 0, 0, 1}};
}  // namespace dimension

struct MeasuredUnit {
  Unit unit;
  Dimension dimension;
};

/// Reads the text of a unit alone: products of powers of SI units with their prefixes ("g/cm3", "1/K", "A min/dm2"),
/// `degC`, `%`,
/// `% IACS`, `% of mass`, `counts`, or nothing for a pure number. Symbols are case-sensitive; numbers other than
/// exponents and a leading `1/` are faults. Carried by udunits2 with units defined here, so that no file and no
/// environment variable has a say.
std::variant<MeasuredUnit, TextFault> unit_text(std::string_view text);

/// "a length", "a conductivity", or the powers where it has no name here.
std::string name_of(const Dimension& dimension);

/// A unit people use for it, with an example: "18 um".
std::string example_of(const Dimension& dimension);

}  // namespace mintspread::specs
