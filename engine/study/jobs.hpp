#pragma once

#include <cstdint>
#include <vector>

#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "engine/study/tally.hpp"

namespace mintspread::study {

/// Pieces drawn about one set of centres. Replicates are independent point sets of equal size, one after the other in
/// the numbering of the pieces.
struct Job {
  std::vector<double> centre;  ///< one value an input
  std::uint64_t pieces = 0;    ///< of each replicate
  std::size_t replicates = 1;

  TallyPlan plan{};              ///< filled by run_jobs
  std::vector<Tally> tallies{};  ///< per replicate, filled by run_jobs

  /// All replicates merged in order.
  Tally total() const;
};

/// Runs the pieces of all jobs, chunks of them in parallel, and merges the chunks' tallies in their order: the same
/// tallies on any number of threads. Jobs share the threads, so that small ones fill them. Progress and stop as
/// RunOptions says.
void run_jobs(const Study::Prepared& study, const RunOptions& options, std::vector<Job>& jobs);

}  // namespace mintspread::study
