#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/signature/sensor_model.hpp"
#include "engine/statistics/binned_counts.hpp"
#include "engine/statistics/correlation.hpp"
#include "engine/study/joint_tally.hpp"

namespace mintspread::study {

/// What was read of pieces on their way through the route, beside what they read and whether they are accepted as
/// finished coins. Of finished pieces with a computed reading; the others have none to compare with.
class StageTally {
 public:
  /// Edges of each quantity's counts; one that does not vary (a single bin) is left out of everything.
  StageTally(std::span<const statistics::BinEdges> edges, std::size_t channels, std::size_t windows);

  /// The first `count` lanes; `stages` holds a column for each quantity, NaN where it has no value.
  void add(std::size_t count, const Columns& stages, const signature::Readings& reading,
           std::span<const Failure> failures);
  void merge(const StageTally& later);

  bool varies(std::size_t quantity) const { return varies_[quantity]; }
  /// Co-moments of a quantity and a channel over the pieces that have both.
  const statistics::PairMoments& pair(std::size_t quantity, std::size_t channel) const;
  const statistics::BinnedCounts& pieces(std::size_t quantity) const { return pieces_[quantity]; }
  const statistics::BinnedCounts& accepted(std::size_t quantity, std::size_t window) const;

 private:
  std::size_t channels_, windows_;
  std::vector<bool> varies_;
  std::vector<statistics::PairMoments> pairs_;      ///< [quantity][channel]
  std::vector<statistics::BinnedCounts> pieces_;    ///< [quantity]
  std::vector<statistics::BinnedCounts> accepted_;  ///< [quantity][window]
};

}  // namespace mintspread::study
