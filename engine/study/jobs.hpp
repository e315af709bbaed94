#pragma once

#include <cstdint>
#include <vector>

#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "engine/study/tally.hpp"

namespace mintspread::study {

/// How a number of pieces is drawn.
struct PointSets {
  Points points;
  std::size_t replicates;  ///< independent point sets
  std::uint64_t each;      ///< pieces of one
  std::uint64_t pieces() const { return replicates * each; }
};

/// Nets of Sobol' points whose size is a power of two, at least one block: 32 to 63 of them, the fewest that hold
/// `pieces`. So many tell their own spread within an eighth. One set of exactly `pieces` plain draws, if asked for or
/// where the nets would be smaller than a block.
PointSets point_sets(Points points, std::uint64_t pieces);

/// Pieces drawn about one set of centres; point sets follow each other in the numbering of the pieces.
struct Job {
  std::vector<double> centre;  ///< one value an input
  PointSets sets;
  std::uint64_t pilot = 16 * block_lanes;  ///< of its first pieces, which fix the edges of all distributions

  TallyPlan plan{};              ///< filled by run_jobs
  std::vector<Tally> tallies{};  ///< per point set, filled by run_jobs

  /// All point sets merged in order.
  Tally total() const;
};

/// Where the pieces of a point set come from.
DrawSource source_of(const Study::Prepared& study, std::uint64_t seed, const PointSets& sets, std::size_t replicate);

/// Runs the pieces of all jobs that have no tallies yet, chunks of them in parallel, and merges the chunks' tallies in
/// their order: the same tallies on any number of threads. Jobs share the threads, so that small ones fill them.
/// Progress and stop as RunOptions says.
void run_jobs(const Study::Prepared& study, const RunOptions& options, std::vector<Job>& jobs);

}  // namespace mintspread::study
