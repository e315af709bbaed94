#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "engine/statistics/moments.hpp"

namespace mintspread::statistics {

/// Variances of a balanced nested design: lots, loads within lots, pieces within loads. Components may come out
/// negative by sampling error; they are left so.
struct NestedVariance {
  double between_lots, between_loads, within_loads;
};

/// Mean squares of a balanced analysis of variance and what the design was.
struct NestedMeanSquares {
  double lots, loads, pieces;
  std::size_t loads_a_lot, pieces_a_load;
};

/// Components from expected mean squares (H. Scheffe, The Analysis of Variance, 1959, sec. 7.3, from memory):
/// within = MS_pieces, loads = (MS_loads - MS_pieces) / n, lots = (MS_lots - MS_loads) / (b n). With one load a lot the
/// loads are not told from the lots: between_loads is 0 and lots = (MS_lots - MS_pieces) / n.
NestedVariance components(const NestedMeanSquares& squares);

/// Mean squares of moments by [lot][load]: at least two lots; every lot with the same number of loads, every load with
/// about the same number of pieces (>= 2), of which the mean is used.
NestedMeanSquares mean_squares(std::span<const std::vector<Moments>> lots);

}  // namespace mintspread::statistics
