#pragma once

#include <optional>
#include <span>
#include <string>
#include <utility>
#include <vector>

#include "engine/measured/gauge_error.hpp"
#include "engine/measured/observations.hpp"
#include "engine/statistics/group_variance.hpp"
#include "specs/measurements.hpp"
#include "specs/quantity_text.hpp"
#include "tools/program/command_line.hpp"
#include "tools/program/fit_numbers.hpp"

namespace mintspread::program {

/// A gauge as it bears on a column: in the unit that the fit is told in.
struct ColumnGauge {
  std::string name = "as stated", file;
  measured::GaugeError error;
  specs::Stretch repeatability;
  std::optional<std::pair<double, double>> range;  ///< of readings
  double from_column = 1.0;                        ///< factor from the column's unit

  void at_mean(double mean) {
    error.repeatability = repeatability.relative ? repeatability.size * std::abs(mean) : repeatability.size;
  }
};

/// What was read, reduced to the values of one column.
struct Column {
  specs::ReadTable table;
  std::vector<double> values;
  std::vector<measured::Censored> censored;
  std::optional<statistics::NestedGroups> groups;
  std::vector<std::uint64_t> outside;  ///< of each gauge's range
  double error_variance = 0.0;         ///< mean over the values
  std::vector<double> error_parts;     ///< of it, by gauge
  std::vector<double> shares;          ///< of each gauge in a value, mean over the values
  std::uint64_t censored_left_out = 0;
};

/// Sums over the rows that every gauge has read.
struct Common {
  std::vector<double> mean;  ///< of corrected readings
  std::uint64_t rows = 0;
};

/// Gauges of the columns: from files, or from numbers of the command line. Throws Rejected where what they read cannot
/// be the column, or cannot be combined.
std::vector<ColumnGauge> gauges_of(const Request& request, const specs::ReadTable& heading,
                                   const specs::MeasuredUnit& unit, const FitNumbers& numbers);

Common read_common(const Request& request, const std::vector<ColumnGauge>& gauges);

/// One value a row: the reading without its bias, or the weighted mean of those of several gauges.
Column read_column(const Request& request, const std::vector<ColumnGauge>& gauges, const std::vector<double>& weights);

/// The step values are multiples of, by how they are written: a decimal place, or two or five of it.
double written_step(const specs::ReadColumn& column, const std::vector<double>& values,
                    const measured::GaugeError& gauge);

}  // namespace mintspread::program
