#pragma once

#include <cstddef>
#include <vector>

#include "engine/study/result.hpp"

namespace mintspread::reports {

/// Two channels in one plane, judged by one machine class.
struct ChannelPair {
  std::size_t across, up;  ///< positions in Result::channels
  std::size_t set;         ///< position in Result::windows
};

/// The pairs worth a drawing, at most three: those that a relation joins, judged by the class whose criteria on them
/// reject most, and the two channels that reject most. Empty without a sample.
std::vector<ChannelPair> told_pairs(const study::Result& result);

/// Whether the criterion is a window on one of the two channels, or a relation that has a line in their plane.
bool belongs(const study::Result& result, const ChannelPair& pair, std::size_t criterion);

/// Positions in the sample, by the verdict of the pair's class.
struct JudgedSample {
  std::vector<std::size_t> accepted;         ///< among the fair pieces
  std::vector<std::size_t> rejected_here;    ///< by a criterion that belongs to the pair
  std::vector<std::size_t> rejected_beside;  ///< by other criteria of the class only
};
JudgedSample judged(const study::Result& result, const ChannelPair& pair);

}  // namespace mintspread::reports
