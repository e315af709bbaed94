#pragma once

#include <cstddef>
#include <span>
#include <vector>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// One budget a channel: what each input that varies does to the reading, by secants of one standard deviation about
/// the nominal piece and nominal conditions (JCGM 100:2008, 5.1.3: sensitivity coefficients), before noise is drawn and
/// the reading is rounded. Worst case and root sum square add the effects of the full tolerances (of 3 sd where an
/// input states no limits). Inputs that do not move a channel are left out; entries fall in contribution. Correlation
/// is not in these figures. Their bands are the range over `outer_centres` (one value an input each), the spread of the
/// inputs as at the nominal centres.
std::vector<Budget> budgets(const Study::Prepared& study, std::span<const std::vector<double>> outer_centres = {});

/// Fills ChannelResult::budget and, from it and the figures of a run, CriterionResult::use of windows on channels: the
/// distance of the mean reading from the window's middle, three standard deviations shared among the levels by their
/// variance, half the band of the mean that unknown inputs cause, and what is left (negative when the window is too
/// narrow). One-sided windows are measured from the mean to the limit. Bands of the budgets are over the outer draws
/// that `result` names. Intervals follow from those of the mean and the standard deviation; in what is left both are
/// added in quadrature, as independent (which they are for normal readings).
void add_budgets(const Study::Prepared& study, Result& result);

}  // namespace mintspread::study
