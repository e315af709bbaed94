#pragma once

#include <span>
#include <vector>

#include "engine/statistics/intervals.hpp"

namespace mintspread::statistics {

/// One mean square of a sum: independent of the others, and freedom * mean_square over its expectation chi squared.
struct MeanSquareTerm {
  double coefficient;
  double mean_square;
  double freedom;
};

/// Interval for SUM coefficient * E[mean square], coefficients of either sign, by the modified large-sample method:
/// about the sum of the terms as found, with half-widths
///   lower^2 = SUM_p (G_p c_p S_p)^2 + SUM_m (H_m c_m S_m)^2 + SUM_pm G_pm c_p |c_m| S_p S_m   (p: c > 0, m: c < 0),
///   upper^2 likewise with H_p, G_m, H_pm; G_i = 1 - 1 / F(a; n_i, inf), H_i = 1 / F(1 - a; n_i, inf) - 1,
///   G_pm = [(F - 1)^2 - (G_p F)^2 - H_m^2] / F with F = F(a; n_p, n_m), H_pm = [(1 - F)^2 - (H_p F)^2 - G_m^2] / F
///   with F = F(1 - a; n_p, n_m), upper points, a half of 1 - confidence
/// (R. K. Burdick & F. A. Graybill, Confidence Intervals on Variance Components, 1992, sec. 3.3, after N. Ting and
/// others, J. Stat. Comput. Simul. 35, 135 (1990), from memory; formulas as in the function vci of the R package daewr,
/// which leaves H_pm out). Exact for one term, and where a bound of a difference of two is zero. The products of terms
/// of one sign that they also give are left out: small, and cautious. Bounds below zero are zero: a variance is none.
Interval variance_interval(std::span<const MeanSquareTerm> terms, double confidence);

/// Several variances, each a sum of multiples of the same mean squares.
struct ComponentsOfVariance {
  std::vector<double> mean_squares, freedom;   ///< independent; freedom 0: the mean square is not used
  std::vector<std::vector<double>> multiples;  ///< [variance][mean square]
};

/// Interval for the share of each variance in the sum of all, negative ones taken as none: generalized confidence
/// intervals (S. Weerahandi, J. Am. Stat. Assoc. 88, 899 (1993); for components of variance R. K. Burdick, C. M. Borror
/// & D. C. Montgomery, Design and Analysis of Gauge R&R Studies, 2005, both from memory). Each mean square stands for
/// freedom * mean_square / chi squared, all chi squared being independent, and the interval lies between the quantiles
/// of what the shares then are, found at 2^bits Sobol' points, the same ones every time (bits of 6 to 16).
/// Of two variances from groups of one size that is the exact interval by F, to 1e-3 of a share; of few groups of
/// unequal sizes simulated coverage falls to 93 % for 95.
std::vector<Interval> share_intervals(const ComponentsOfVariance& components, double confidence, int bits = 14);

}  // namespace mintspread::statistics
