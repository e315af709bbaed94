#pragma once

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "engine/sampling/distribution.hpp"
#include "specs/quantity_text.hpp"

namespace mintspread::specs {

// From what was written to a distribution of the deviation from the nominal value. Pure arithmetic: no files, no
// places.

/// Limits of a tolerance as distances from the nominal value, both positive; absolute in SI or as fractions of the
/// nominal.
struct Tolerance {
  double below = 0, above = 0;
  bool relative = false;
  bool symmetric() const { return below == above; }
};

/// Everything a quantity says about one spread.
struct SpreadStatement {
  std::string shape;   ///< empty: by the tolerance
  double nominal = 0;  ///< SI
  bool range = false;  ///< the tolerance was written as a range
  std::optional<Tolerance> tolerance;
  std::optional<Stretch> sd;
  std::optional<double> coverage;    ///< fraction within the tolerance
  std::optional<double> capability;  ///< Cp
  std::optional<double> degrees_of_freedom;
  std::optional<Stretch> edge;
  bool sorted = false;
};

struct SpreadReading {
  sampling::Shape deviation;
  bool relative = false;
  bool cut = false;   ///< nothing is drawn outside of the tolerance because a gauge removes it
  std::string words;  ///< "normal, 3 sd = tolerance, sd 0.667 um"
};

/// A fault of a statement, with the key that carries it: "sd", "shape", "value", ...
struct StatementFault {
  std::string key, what, remedy;
};

/// Nothing where the statement has no spread. `tell` writes a distance in the user's unit ("0.667 um").
///
/// normal: sd as stated, or tolerance / 3, / z((1 + coverage) / 2), / (3 Cp). truncated normal: the same, cut at the
/// limits. two-piece normal: each side its own tolerance, divided likewise. lognormal: `nominal` is the median; sd of
/// the logarithm as stated in per cent, or ln(upper limit / lower limit) / 2 divided likewise. uniform, arcsine,
/// triangular (mode at the nominal) and curvilinear trapezoid fill the limits. student t: `sd` is the scale.
std::variant<std::optional<SpreadReading>, StatementFault> read_spread(const SpreadStatement& statement,
                                                                       const std::function<std::string(double)>& tell);

/// Number with three (spread) or six (value) significant digits.
std::string short_number(double value, int digits);

}  // namespace mintspread::specs
