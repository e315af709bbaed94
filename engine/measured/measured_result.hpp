#pragma once

#include <array>
#include <cmath>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace mintspread::measured {

// What is said about a column of measured values: plain data, in the column's own unit.

struct Range {
  double lower = 0.0, upper = 0.0;
};

struct ShapeRow {
  std::string name;
  std::string obstacle;  ///< why it was not fitted; what follows is then empty
  std::string line;      ///< as a specification states it, gauge error taken out; empty where that is not possible
  std::uint64_t estimated = 0;
  double mean = 0.0, sd = 0.0;  ///< of the readings
  double log_likelihood = 0.0;
  double aicc = 0.0, behind = 0.0;  ///< the criterion, and how far it lies above the best
  std::optional<double> a_squared, p_value;
  bool simulated = false;                                     ///< how p_value was found: else by formula
  double lower_reach = 0.0, median = 0.0, upper_reach = 0.0;  ///< quantiles 0.00135, 0.5, 0.99865
  std::optional<std::array<Range, 3>> reach;                  ///< 95 % intervals of these if the shape is right
};

struct Bar {
  double lower, upper;
  std::uint64_t count;
  double expected;       ///< by the best shape
  double scatter = 0.0;  ///< standard deviation of the count by chance if that shape is right
};

/// An ordered value and the quantile of the best shape at its plotting position, (rank - 1/2) / n.
struct QuantilePair {
  double expected, observed;
  Range chance = {};  ///< holds 95 % of the values of this rank if the shape is right
};

struct GroupRow {
  std::string name;  ///< of the group; empty for what is left within the innermost
  std::uint64_t units = 0, freedom = 0;
  double mean_square = 0.0, variance = 0.0;  ///< as estimated, negative ones too
  double uncertainty = 0.0;                  ///< standard, of the variance
  double lower = 0.0, upper = 0.0;           ///< 95 % interval of the variance
  double share = 0.0;                        ///< of the sum of the positive ones
  Range share_interval = {};                 ///< 95 %
};

struct GaugeRow {
  std::string column, name, file;
  double bias = 0.0, proportional_bias = 0.0, bias_uncertainty = 0.0, repeatability = 0.0;
  double bias_freedom = 0.0;  ///< degrees of freedom of the bias's uncertainty; 0: taken as known
  double freedom = 0.0;       ///< degrees of freedom that the repeatability rests on; 0: taken as known
  std::uint64_t pieces_a_reading = 1;
  double weight = 1.0;  ///< among several gauges
  std::uint64_t outside_range = 0;
  // Against the weighted mean of all gauges, where there are several; 95 % of the differences of gauges that are as
  // stated lie within the expanded uncertainty.
  std::optional<double> difference, difference_uncertainty, difference_expanded;

  bool disagrees() const { return difference && std::abs(*difference) > *difference_expanded; }

  /// Of a standard deviation of normal errors from f degrees of freedom, the standard uncertainty is near s / sqrt(2 f)
  /// (JCGM 100:2008, E.4.3). `freedom` must be above zero.
  double repeatability_uncertainty() const { return repeatability / std::sqrt(2.0 * freedom); }
};

struct GaugeEffect {
  std::vector<GaugeRow> gauges;
  double measured_variance = 0.0, error_variance = 0.0, variance = 0.0;  ///< variance: what is left, as it comes out
  /// 95 % intervals; what is left has the uncertainty of repeatabilities that rest on readings, others are as stated.
  Range measured_interval = {}, interval = {};
  std::uint64_t pieces_a_reading = 1;
  /// Of the mean, with the uncertainty of the bias; equal to that of the readings alone where none is stated.
  double mean_uncertainty = 0.0;
  Range mean_interval = {};  ///< 95 %
};

/// What n values vouch for in the tails, with a confidence of 95 %.
struct TailReach {
  double between_extremes = 0.0;  ///< part of production between the smallest and the largest value
  double below_largest = 0.0;
  std::uint64_t needed = 0;  ///< values for 99.73 % between the extremes
  double factor = 0.0;       ///< mean +- factor sd encloses 99.73 % of a normal production
  double lower = 0.0, upper = 0.0;
};

struct MeasuredResult {
  std::string file, column, unit;
  std::uint64_t rows = 0, values = 0, gaps = 0, below_limit = 0, above_limit = 0;
  double step = 0.0;  ///< of the readings as written, a proportional bias not yet taken off
  bool step_stated = false;
  bool binned = false;
  std::optional<double> sorted_lower, sorted_upper;
  double mean = 0.0, mean_uncertainty = 0.0, sd = 0.0, sd_lower = 0.0, sd_upper = 0.0;  ///< 95 % interval of the sd
  double smallest = 0.0, median = 0.0, largest = 0.0, skewness = 0.0;
  std::vector<ShapeRow> shapes;  ///< best first, those that could not be fitted last
  std::vector<Bar> bars;
  std::vector<QuantilePair> pairs;  ///< a hundred or so, with all of the extremes; empty with censored readings
  std::vector<GroupRow> groups;     ///< outermost first, the last is within; empty without groups
  std::optional<GaugeEffect> gauge;
  TailReach tails;
  std::string data_line;      ///< the values themselves as a shape
  std::string data_obstacle;  ///< why a specification cannot take them so; then the line is empty
  std::string group_line;     ///< a normal with its components by group; empty without groups
  std::uint64_t draws = 0, seed = 0;
};

}  // namespace mintspread::measured
