#pragma once

#include <cstdint>
#include <string>
#include <vector>

#include "engine/study/result.hpp"
#include "engine/study/study.hpp"

namespace mintspread::study {

/// One figure of two specifications and its change, B less A.
struct Change {
  double first, second;
  Figure difference;
};

struct ChannelChange {
  std::string name, unit;
  Change mean, sd;
};

struct WindowChange {
  std::string machine_class;
  Change accepted;
};

/// Two specifications drawn with common numbers: quantities at the same path share their draws, so what both have in
/// common cancels in the differences.
struct Comparison {
  std::string first, second;  ///< names of the coins
  std::uint64_t pieces = 0, seed = 0;
  std::vector<ChannelChange> channels;               ///< those with the same name and unit in both
  std::vector<WindowChange> windows;                 ///< machine classes of both
  std::vector<std::string> only_first, only_second;  ///< channels and classes that the other has not
  std::string method;
};

/// Mean and standard deviation: Student's t over 32 batches of pieces. Fractions accepted: Clopper-Pearson bounds
/// at 97.5 % for the pieces that only the one and only the other accepts, which together hold at least 95 %.
Comparison compare(const Study& first, const Study& second, const RunOptions& options);

}  // namespace mintspread::study
