#include <algorithm>
#include <bit>
#include <chrono>
#include <utility>

#include "engine/study/jobs.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "engine/study/summary.hpp"

namespace mintspread::study {

namespace {

/// Pieces of one Sobol' replicate: a power of two, where the points are a net, and whole blocks.
std::uint64_t net_size(std::uint64_t pieces, std::size_t replicates) {
  return std::bit_ceil(std::max<std::uint64_t>(block_lanes, (pieces + replicates - 1) / replicates));
}

std::vector<Job> jobs_of(const Study::Prepared& study, const RunOptions& options, std::size_t outer) {
  std::vector<Job> jobs(1);
  jobs[0].centre.assign(study.draws.nominal().begin(), study.draws.nominal().end());
  jobs[0].pieces = options.pieces;
  if (options.points == Points::sobol) {
    jobs[0].replicates = sobol_replicates;
    jobs[0].pieces = net_size(options.pieces, sobol_replicates);
  }
  for (auto& centre : study.draws.outer_centres(options.seed, outer)) {
    Job& job = jobs.emplace_back();
    job.centre = std::move(centre);
    job.pieces = options.points == Points::sobol ? net_size(options.outer_pieces, 1) : options.outer_pieces;
  }
  return jobs;
}

Result summarise(const Study::Prepared& study, const Tally& tally, const Result& nominal, Intervals intervals) {
  Result result = nominal;
  add_figures(study, tally, intervals, result);
  return result;
}

}  // namespace

Result nominal_reading(const Study& study) { return nominal_result(study.prepared()); }

Result run(const Study& study, const RunOptions& options) {
  const auto start = std::chrono::steady_clock::now();
  const Study::Prepared& prepared = study.prepared();
  const std::size_t outer = prepared.draws.unknown().empty() ? 0 : options.outer_draws;
  std::vector<Job> jobs = jobs_of(prepared, options, outer);
  run_jobs(prepared, options, jobs);

  const Result nominal = nominal_result(prepared);
  Result result = summarise(prepared, jobs[0].total(), nominal, Intervals::of_independent_pieces);
  if (jobs[0].replicates > 1) {
    std::vector<Result> replicates;
    for (const Tally& tally : jobs[0].tallies)
      replicates.push_back(summarise(prepared, tally, nominal, Intervals::none));
    add_replicate_intervals(replicates, result);
  }
  std::vector<Result> outer_results;
  for (std::size_t j = 1; j < jobs.size(); ++j) {
    outer_results.push_back(summarise(prepared, jobs[j].total(), nominal, Intervals::none));
  }
  add_bands(outer_results, result);
  decide_targets(prepared, result);
  result.provenance.seed = options.seed;
  result.provenance.pieces = jobs[0].pieces * jobs[0].replicates;
  result.provenance.outer_draws = outer;
  result.provenance.outer_pieces = outer == 0 ? 0 : jobs[1].pieces;
  result.provenance.design = options.points == Points::sobol ? "flat, scrambled Sobol' points in " +
                                                                   std::to_string(sobol_replicates) + " replicates"
                                                             : "flat, plain draws";
  result.provenance.threads = options.threads == 0 ? available_threads() : options.threads;
  result.provenance.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  return result;
}

}  // namespace mintspread::study
