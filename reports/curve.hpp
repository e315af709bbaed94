#pragma once

#include <cstdint>
#include <vector>

#include "engine/study/result.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

// A histogram as an outline over a range of values: one step a bin, heights in pieces per unit of the value.

inline constexpr double curve_top = 12.0, curve_bottom = 158.0;  ///< drawing units

struct Range {
  double lower, upper;
};

struct Step {
  double left, right, density;
};

/// The bins inside the range, the outermost cut at its ends; empty without pieces.
std::vector<Step> steps_of(const study::Histogram& histogram, std::uint64_t pieces, const Range& range);

/// The part of the steps between two values, which may be infinite.
std::vector<Step> cut(const std::vector<Step>& steps, double lower, double upper);

double peak(const std::vector<Step>& steps);

/// From the ground up, along the steps and down to the ground.
Points outline(const std::vector<Step>& steps, const Scale& x, const Scale& y);

}  // namespace mintspread::reports
