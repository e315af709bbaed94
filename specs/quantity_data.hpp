#pragma once

#include <optional>
#include <string>

#include "specs/statement.hpp"

namespace mintspread::specs {

/// Measured values or a mixture as one spread about a nominal value.
struct DataSpread {
  double nominal = 0;  ///< as stated, or the mean
  MeasuredUnit unit;
  sampling::Shape deviation;  ///< from `nominal`, absolute
  std::string head,
      words;  ///< "40 values of gauge.csv, column thickness_um"; "measured, between order statistics, sd 0.61 um"
  std::string note;         ///< "n = 40, gauge.csv"; empty for a mixture
  std::size_t between = 0;  ///< measured values within the tolerance, where there is one
};

/// The key `data`: deviations of the measured values from the stated value, which they are not moved to, or from their
/// mean.
std::optional<DataSpread> read_measured(const Node& data, const std::optional<StatedValue>& stated,
                                        const StatementReader& reader);

/// The unit in brackets behind the name of the column that `data`, at `path`, names; empty where there is none, or no
/// such column.
std::string unit_in_heading(const Node& data, const std::string& path, Context& context);

/// The key `parts`: each part a value with its own spread; the nominal value is the stated one, or the mean of the
/// parts' values by weight.
std::optional<DataSpread> read_mixture(const Node& parts, const std::optional<StatedValue>& stated,
                                       const StatementReader& reader);

}  // namespace mintspread::specs
