#pragma once

#include <span>

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

}  // namespace mintspread::statistics
