#pragma once

#include <algorithm>
#include <cstddef>
#include <cstdint>
#include <vector>

#include "engine/statistics/moments.hpp"

namespace mintspread::study {

/// What became of the pieces that were started. Pieces that cannot be made are left out.
struct SortTally {
  struct At {
    std::uint64_t in = 0;                ///< pieces that came to the sort, each once
    std::uint64_t out = 0;               ///< of them, outside of the limits at the first reading
    std::uint64_t reworked = 0;          ///< times that a piece went back
    std::uint64_t reworked_squares = 0;  ///< sum of the squares of these, piece by piece
    std::uint64_t scrapped = 0;
  };
  std::uint64_t started = 0, finished = 0;
  std::vector<At> sorts;
  std::vector<statistics::Moments> metal;  ///< per bath, kg plated for a started piece, whatever became of it

  void merge(const SortTally& later) {
    started += later.started;
    finished += later.finished;
    sorts.resize(std::max(sorts.size(), later.sorts.size()));
    for (std::size_t s = 0; s < later.sorts.size(); ++s) {
      sorts[s].in += later.sorts[s].in;
      sorts[s].out += later.sorts[s].out;
      sorts[s].reworked += later.sorts[s].reworked;
      sorts[s].reworked_squares += later.sorts[s].reworked_squares;
      sorts[s].scrapped += later.sorts[s].scrapped;
    }
    metal.resize(std::max(metal.size(), later.metal.size()));
    for (std::size_t m = 0; m < later.metal.size(); ++m) metal[m].merge(later.metal[m]);
  }
};

}  // namespace mintspread::study
