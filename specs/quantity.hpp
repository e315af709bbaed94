#pragma once

#include <array>
#include <limits>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/materials/deposition.hpp"
#include "specs/context.hpp"
#include "specs/quantity_text.hpp"
#include "specs/tree.hpp"

namespace mintspread::specs {

/// First words of a `basis`, in the order of study::Basis behind `unstated`.
inline constexpr std::array<std::string_view, 5> basis_names = {"measured", "handbook", "supplier", "guess", "drawing"};

/// What one quantity of the grammar may be.
struct QuantityRule {
  std::string name = {};                                       ///< "thickness"
  std::vector<Dimension> dimensions = {};                      ///< any one of these
  double smallest = -std::numeric_limits<double>::infinity();  ///< SI; nominal value and limits must lie within
  double largest = std::numeric_limits<double>::infinity();
  bool smallest_excluded = false;
  std::string why = {};  ///< the physical reason of the bounds: "a layer cannot be thinner than nothing"
  std::size_t level = study::piece_level;  ///< where it varies unless `per` says otherwise
  std::string subject = {};                ///< "mean as-plated face thickness"; by default the name
  std::string place =
      {};  ///< where on the piece it holds: "face centre", "face mean", "face" for either, "rim"; or empty
  std::vector<materials::Constituent> composition = {};  ///< of the metal it tells of, by mass; empty where not known
  bool deviation_only = false;  ///< a value that is 0 by nature: a bare number is its standard deviation (noise)
};

/// A quantity in short or long form as an input of the production model, in SI units, with its distributions and the
/// line that tells how it was understood. `path` is the input's address, `step` the step it belongs to. Nothing when it
/// is refused; the reasons are findings under `reported_path`.
std::optional<study::Input> read_quantity(const Node& node, const QuantityRule& rule, const std::string& path,
                                          const std::string& step, Context& context, const std::string& reported_path);
std::optional<study::Input> read_quantity(const Node& node, const QuantityRule& rule, const std::string& path,
                                          const std::string& step, Context& context);

/// Text of a value in its unit, six digits: "18 um".
std::string told(double si, const Unit& unit);

/// Text of a distance in the unit, three digits: "0.667 um".
std::string told_spread(double si, const Unit& unit);

}  // namespace mintspread::specs
