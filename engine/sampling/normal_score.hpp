#pragma once

#include <span>

namespace mintspread::sampling {

/// scores[i] = the standard normal quantile of u[i], u in (0, 1). The same bytes on AVX2 and AVX-512.
/// M. J. Wichura, "Algorithm AS 241: the percentage points of the normal distribution", Appl. Statist. 37 (1988)
/// 477-484, routine PPND16, coefficients from memory and checked against mpmath. Relative error below 7e-16 (three
/// units in the last place) from 1e-300 upwards; above one half the argument's own rounding dominates: hand in the
/// small tail and change the sign where that matters. 0 gives -infinity, 1 +infinity, anything else outside NaN. `u`
/// and `scores` have one size and may be the same span.
void normal_scores(std::span<const double> u, std::span<double> scores);
double normal_score(double u);

/// Standard normal distribution function, full relative accuracy in the lower tail: erfc(-z / sqrt 2) / 2.
double normal_cdf(double z);

}  // namespace mintspread::sampling
