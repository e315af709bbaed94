#pragma once

#include <functional>
#include <string>

#include "engine/statistics/correlation.hpp"
#include "engine/study/figures.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// Correlation of a pair that `of` finds in a tally, with a 95 % interval if wanted.
Figure correlation_figure(const Job& job, const std::function<const statistics::PairMoments&(const Tally&)>& of,
                          Intervals intervals);

/// How its interval is made.
std::string correlation_method(const Job& job);

/// Fills JointResult::correlations of a job that has run, with 95 % intervals if wanted, and names their method:
/// Fisher's for plain draws, Student's t over replicates.
void add_correlations(const Job& job, Intervals intervals, Result& result);

/// Fills the rest of JointResult: the sample, and the lines of relations within six standard deviations of the two
/// channels' means. A line is found on a grid of 48 steps a side and interpolated linearly between its nodes: exact for
/// ratios and sums to about a thousandth of a step, fine enough for drawing and for nothing else.
void add_sample(const Study::Prepared& study, const Job& job, Result& result);

}  // namespace mintspread::study
