#pragma once

#include <algorithm>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/signature/planar.hpp"

namespace mintspread::test {

struct Layer {
  double thickness, conductivity, permeability;
};

/// One coin in every lane of one vector.
class Stack {
 public:
  Stack(const std::vector<Layer>& from, double distance) : columns_(3 * from.size() + 1, 8) {
    for (std::size_t i = 0; i < from.size(); ++i)
      layers_.push_back({fill(3 * i, from[i].thickness), fill(3 * i + 1, from[i].conductivity),
                         fill(3 * i + 2, from[i].permeability)});
    distance_ = fill(3 * from.size(), distance);
  }
  signature::PlanarBlock block() const { return {layers_, distance_}; }

 private:
  std::span<const double> fill(std::size_t column, double value) {
    std::fill(columns_[column].begin(), columns_[column].end(), value);
    return columns_[column];
  }
  Columns columns_;
  std::vector<signature::LayerColumns> layers_;
  std::span<const double> distance_;
};

}  // namespace mintspread::test
