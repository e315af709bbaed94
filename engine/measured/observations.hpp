#pragma once

#include <cstddef>
#include <cstdint>
#include <vector>

namespace mintspread::measured {

/// Equal readings, or those of one bin. A reading that was rounded says that the value lies in [lower, upper]; one that
/// was not has lower = upper. Readings like "< 0.5" have an infinite end.
struct Cell {
  double lower, upper;
  double value;  ///< as read; the middle of a bin; the finite end of a censored reading
  std::uint64_t count;
};

/// A reading of which only a bound is known.
struct Censored {
  double limit;
  bool below;  ///< the value lies below the limit, else above
};

/// What was measured, reduced to what a likelihood needs. Any one unit throughout.
struct Observations {
  std::vector<Cell> cells;     ///< with a value, ascending
  std::vector<Cell> censored;  ///< ascending by limit, those below a limit first
  std::uint64_t values = 0;    ///< readings with a value
  std::uint64_t count = 0;     ///< all readings
  double step = 0.0;           ///< readings were rounded to multiples of this; 0: not rounded
  bool binned = false;         ///< too many distinct values to keep them apart
  // Of the readings with a value.
  double mean = 0.0, sd = 0.0, skewness = 0.0, smallest = 0.0, median = 0.0, largest = 0.0;
};

/// `values` are finite and at least one. A step below a thousandth of the standard deviation changes a likelihood by
/// less than 1e-7 a value and is taken as none. More than `most_cells` distinct values fall into bins of a hundredth of
/// the interquartile range (made a multiple of the step), which a likelihood hardly feels either: the information lost
/// on a normal sd is about (width / sd)^2 / 6, 3e-5.
Observations observe(std::vector<double> values, double step, const std::vector<Censored>& censored = {},
                     std::size_t most_cells = 4096);

}  // namespace mintspread::measured
