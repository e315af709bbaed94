#pragma once

#include "engine/measured/fit.hpp"

namespace mintspread::measured {

// What samples drawn from a fitted shape say of it: as many values as were measured, rounded, cut off at the limits of
// what could be read and fitted likewise (parametric bootstrap; A. C. Davison & D. V. Hinkley, Bootstrap Methods and
// their Application, 1997, from memory).

struct Simulated {
  /// Part of the samples, the data counted among them, that fit worse than the data. None with censored readings, of
  /// binned values and of more than most_simulated_values.
  std::optional<double> p_value;
  /// 95 % intervals of told_quantiles. With q a quantile and w the distance of the quartiles of a fit, of a lognormal
  /// those of the logarithm, (q - Q) / w is taken to be as far as (q* - q) / w* of the samples, Q being the true
  /// quantile. Of shapes with a place and a width only, rounding aside, that ratio does not depend on the truth and the
  /// intervals are exact, however few the values are; of others they are so for many values. The ends are order
  /// statistics of the samples, which keeps the coverage as stated on average; fewer than 39 samples give none.
  /// More than most_simulated_values are stood for by 500 and the ratio is reduced by the root of the numbers'
  /// ratio: right for many values, and too wide for shapes with sharp ends, which are found faster than that.
  std::optional<std::array<statistics::Interval, 3>> reach;
};

Simulated simulate(const ShapeFit& fit, const Observations& observations, const FitOptions& options);

}  // namespace mintspread::measured
