#pragma once

#include <array>

#include "engine/study/jobs.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// Quantiles that are printed, and the median.
inline constexpr std::array<double, 4> printed_quantiles{0.00135, 0.025, 0.975, 0.99865};

enum class Intervals { none, sampling_error };

/// Fills in the figures of a job that has run, with 95 % intervals if wanted, and names their methods.
///
/// Plain draws: Clopper-Pearson for fractions, normal theory for mean and standard deviation, order statistics for
/// quantiles. Replicates: Student's t over their means, standard deviations and fractions; quantiles by t over the
/// replicates' fractions below the quantile, carried over to values by the distribution of all pieces (R. S. Woodruff,
/// J. Am. Stat. Assoc. 47, 635 (1952)), because a replicate's own far quantile rests on too few pieces. Fractions and
/// quantiles with fewer than 20 pieces of the rarer kind keep the interval of independent pieces, which Sobol' points
/// only make cautious. Unsolved pieces widen the intervals of fractions both ways.
void add_figures(const Study::Prepared& study, const Job& job, Intervals intervals, Result& result);

}  // namespace mintspread::study
