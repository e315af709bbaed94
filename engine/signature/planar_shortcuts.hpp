#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <vector>

#include "engine/signature/planar_plan.hpp"

namespace mintspread::signature {

/// How one frequency of a rule is computed in every block that stays within `range`.
struct PlannedFrequency {
  StackRange range;
  FrequencyPlan quick;    ///< with shortcuts
  FrequencyPlan careful;  ///< without, for lanes whose |M| is too small for them
};

/// Plans made once for a rule, so that a lane's value does not depend on the other lanes of its block.
struct PlanarShortcuts {
  std::size_t layers = 0;  ///< of the stacks
  std::size_t depth = 0;   ///< layers whose extremes decide
  NodeRange nodes;
  std::vector<PlannedFrequency> frequencies;
};

/// Plans for the lanes of `box`, over ranges as much wider as the shortcuts of the box itself allow.
PlanarShortcuts plan_shortcuts(const PlanarRule& rule, std::span<const std::complex<double>> s, const PlanarBlock& box,
                               Shortcuts allowed);

/// Whether a block with these extremes may be computed as planned.
bool holds(const PlannedFrequency& planned, const StackRange& block);

}  // namespace mintspread::signature
