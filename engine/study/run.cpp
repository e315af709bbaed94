#include <algorithm>
#include <bit>
#include <chrono>
#include <utility>

#include "engine/study/figures.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/nominal.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "engine/study/summary.hpp"

namespace mintspread::study {

namespace {

std::vector<Job> jobs_of(const Study::Prepared& study, const RunOptions& options, std::size_t outer) {
  std::vector<Job> jobs(1);
  jobs[0].centre.assign(study.draws.nominal().begin(), study.draws.nominal().end());
  jobs[0].sets = point_sets(options.points, options.pieces);
  for (auto& centre : study.draws.outer_centres(options.seed, outer)) {
    Job& job = jobs.emplace_back();
    job.centre = std::move(centre);
    // One net: bands have no intervals, so no replicates.
    const bool net = options.points == Points::sobol && options.outer_pieces >= block_lanes;
    job.sets = net ? PointSets{Points::sobol, 1, std::bit_ceil(options.outer_pieces)}
                   : PointSets{Points::plain, 1, options.outer_pieces};
  }
  return jobs;
}

std::string design_name(const PointSets& sets) {
  if (sets.points == Points::plain) return "flat, plain draws";
  return "flat, scrambled Sobol' points in " + std::to_string(sets.replicates) + " replicates";
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
  Result result = nominal;
  add_figures(prepared, jobs[0], Intervals::sampling_error, result);
  std::vector<Result> outer_results(outer, nominal);
  for (std::size_t j = 0; j < outer; ++j) add_figures(prepared, jobs[j + 1], Intervals::none, outer_results[j]);
  add_bands(outer_results, result);
  decide_targets(prepared, result);
  result.provenance.seed = options.seed;
  result.provenance.pieces = jobs[0].sets.pieces();
  result.provenance.outer_draws = outer;
  result.provenance.outer_pieces = outer == 0 ? 0 : jobs[1].sets.pieces();
  result.provenance.design = design_name(jobs[0].sets);
  result.provenance.threads = options.threads == 0 ? available_threads() : options.threads;
  result.provenance.seconds = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  return result;
}

}  // namespace mintspread::study
