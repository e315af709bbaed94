#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

#include "engine/signature/sensor_model.hpp"
#include "engine/statistics/correlation.hpp"

namespace mintspread::study {

/// Pieces at the beginning of a run that a sample keeps, whatever they read; and rejected pieces it keeps of each
/// machine class.
inline constexpr std::uint64_t sampled_pieces = 400, sampled_rejects = 50;

/// A lane of a block that fails a criterion.
struct Failure {
  std::size_t lane, window, criterion;
};

struct SampledPiece {
  std::uint64_t index;
  std::vector<double> readings;   ///< per channel
  std::vector<Failure> failures;  ///< the lanes mean nothing any more
};

/// Channels taken together: co-moments of every pair, and a few whole pieces. Which pieces are kept depends on their
/// indices and readings only, however the run was cut into chunks: the first ones, and of each window set the first
/// ones it rejects.
class JointTally {
 public:
  JointTally(std::size_t channels, std::size_t windows);

  /// The first `count` lanes of a block whose first piece has index `first`. Failures in any order.
  void add(std::uint64_t first, std::size_t count, const signature::Readings& reading, std::vector<Failure> failures);
  void merge(const JointTally& later);

  /// Co-moments of two channels over the pieces that have both.
  const statistics::PairMoments& pair(std::size_t first, std::size_t second) const;
  /// Rising in index.
  const std::vector<SampledPiece>& sample() const { return sample_; }

 private:
  void add_pairs(std::size_t count, const signature::Readings& reading);
  bool keeps(const SampledPiece& piece, std::vector<std::uint64_t>& rejected) const;

  std::size_t channels_;
  std::vector<statistics::PairMoments> pairs_;  ///< (0,1), (0,2), (1,2), (0,3), ...
  std::vector<SampledPiece> sample_;
  std::vector<std::uint64_t> rejected_;  ///< per window set; exact until all have reached sampled_rejects
};

}  // namespace mintspread::study
