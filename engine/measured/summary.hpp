#pragma once

#include <vector>

#include "engine/measured/fit.hpp"
#include "engine/measured/measured_result.hpp"
#include "engine/statistics/group_variance.hpp"

namespace mintspread::measured {

/// Mean, spread, extremes, what the tails vouch for: everything of the result that needs no shape. Intervals take the
/// values as independent; that of the sd is the one for values of any kurtosis (statistics::sd_interval). The normal
/// interval of the tails is left out (factor 0) for censored readings.
void summarise(const Observations& observations, MeasuredResult& result);

/// The shapes without their lines, and the bars of the best of them: about twenty of equal width, made a multiple of
/// the step.
void describe(const std::vector<ShapeFit>& fits, const Observations& observations, MeasuredResult& result);

std::vector<GroupRow> group_rows(const std::vector<std::string>& names, const statistics::NestedGroups& groups);

}  // namespace mintspread::measured
