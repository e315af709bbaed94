#include <algorithm>
#include <bit>
#include <chrono>
#include <iterator>
#include <utility>

#include "engine/study/bare_spread.hpp"
#include "engine/study/figures.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/joint.hpp"
#include "engine/study/nominal.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/stages.hpp"
#include "engine/study/study.hpp"
#include "engine/study/summary.hpp"

namespace mintspread::study {

namespace {

Job main_job(const Study::Prepared& study, const RunOptions& options, std::uint64_t pieces) {
  Job job;
  job.centre.assign(study.draws.nominal().begin(), study.draws.nominal().end());
  job.sets = point_sets(options.points, pieces);
  return job;
}

std::vector<Job> outer_jobs(const Study::Prepared& study, const RunOptions& options) {
  std::vector<Job> jobs;
  if (study.draws.unknown().empty()) return jobs;
  for (auto& centre : study.draws.outer_centres(options.seed, options.outer_draws)) {
    Job& job = jobs.emplace_back();
    job.centre = std::move(centre);
    // Of few pieces a pilot of all others' length would be half.
    job.pilot = 4 * block_lanes;
    // One net: bands have no intervals, so no replicates.
    const bool net = options.points == Points::sobol && options.outer_pieces >= block_lanes;
    job.sets = net ? PointSets{Points::sobol, 1, std::bit_ceil(options.outer_pieces)}
                   : PointSets{Points::plain, 1, options.outer_pieces};
  }
  return jobs;
}

/// Half-width of the figure that `options` want to be precise.
double reached_by(const Study::Prepared& study, const Precision& until, const Result& nominal, const Job& job) {
  Result result = nominal;
  add_figures(study, job, Intervals::sampling_error, result);
  return half_width(result, until);
}

/// Runs attempts in place of the job until one is precise enough or has the most pieces allowed.
void run_until(const Study::Prepared& study, const RunOptions& options, const Result& nominal, std::vector<Job>& jobs) {
  while (true) {
    run_jobs(study, options, jobs);
    const double reached = reached_by(study, *options.until, nominal, jobs[0]);
    const std::uint64_t pieces = jobs[0].sets.pieces();
    if (reached <= options.until->half_width || pieces >= options.until->most_pieces) return;
    jobs[0] = main_job(study, options, next_pieces(pieces, reached, *options.until));
  }
}

PrecisionResult told(const Precision& until, const Result& result) {
  const double reached = half_width(result, until);
  const bool fraction = until.of == Precision::Of::accepted;
  const double scale = fraction ? 100.0 : 1.0;
  const auto channel = std::ranges::find(result.channels, until.name, &ChannelResult::name);
  return {describe(until), fraction ? "%" : channel->unit, scale * until.half_width, scale * reached,
          reached <= until.half_width};
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
  const Result nominal = nominal_result(prepared);
  std::vector<Job> jobs{main_job(prepared, options, options.pieces)};
  if (options.until) run_until(prepared, options, nominal, jobs);
  std::ranges::move(outer_jobs(prepared, options), std::back_inserter(jobs));
  run_jobs(prepared, options, jobs);

  Result result = nominal;
  add_figures(prepared, jobs[0], Intervals::sampling_error, result);
  if (options.until) result.precision = told(*options.until, result);
  const std::size_t outer = jobs.size() - 1;
  add_correlations(jobs[0], Intervals::sampling_error, result);
  add_sample(prepared, jobs[0], result);
  add_stages(prepared, jobs[0], Intervals::sampling_error, nullptr, result);
  add_bare_spread(prepared, options.seed, result);
  std::vector<Result> outer_results(outer, nominal);
  for (std::size_t j = 0; j < outer; ++j) {
    add_figures(prepared, jobs[j + 1], Intervals::none, outer_results[j]);
    add_correlations(jobs[j + 1], Intervals::none, outer_results[j]);
    add_stages(prepared, jobs[j + 1], Intervals::none, &result, outer_results[j]);
  }
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
