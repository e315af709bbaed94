#include "tools/program/run_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <functional>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "engine/base/sha256.hpp"
#include "engine/base/store.hpp"
#include "engine/base/whole_file.hpp"
#include "engine/study/budget.hpp"
#include "engine/study/compare.hpp"
#include "engine/study/finite.hpp"
#include "engine/study/lots.hpp"
#include "engine/study/samples.hpp"
#include "engine/study/shares.hpp"
#include "engine/study/study.hpp"
#include "reports/csv.hpp"
#include "reports/json.hpp"
#include "reports/page.hpp"
#include "reports/samples.hpp"
#include "reports/text.hpp"
#include "tools/program/build_identity.hpp"
#include "tools/program/console.hpp"
#include "tools/program/examination.hpp"
#include "tools/program/finite_size.hpp"
#include "tools/program/interrupt.hpp"
#include "tools/program/outputs.hpp"

namespace mintspread::program {
namespace {

using study::Result;

/// Everything a result depends on, hashed. Equal specifications may list things in another order, which shows in the
/// result, so the order counts as well.
std::string result_key(const specs::Specification& specification, const study::RunOptions& options,
                       const Request& request) {
  std::string all =
      fmt::format("{} {} {} {} {} {} {} {} {} {} {} {}\n", build_identity(), specification.hash, options.seed,
                  options.pieces, options.outer_draws, options.outer_pieces, request.tolerance, request.sobol,
                  request.shares, request.lots, request.lot, request.planar);
  for (const double rate : request.lot_rates) all += fmt::format("lot rate {}\n", rate);
  if (request.until) {
    all += fmt::format("until {} {} {}\n", study::describe(*request.until), request.until->half_width,
                       request.until->most_pieces);
  }
  const study::ProductionModel& model = specification.model;
  for (const auto& channel : model.sensor.channels) all += fmt::format("channel {}\n", channel.name);
  for (const auto& input : model.inputs) all += fmt::format("input {}\n", input.path);
  for (const auto& set : model.windows) {
    all += fmt::format("windows {}\n", set.machine_class);
    for (const auto& criterion : set.criteria) all += fmt::format("criterion {}\n", criterion.name);
  }
  for (const auto& target : model.targets) all += fmt::format("target {}\n", target.text);
  return sha256(all);
}

/// The results of earlier runs. A store that cannot be used is told of once and then done without.
class EarlierResults {
 public:
  explicit EarlierResults(const Request& request) : request_(request), store_(store_of(request)) {}

  std::optional<Result> find(const std::string& key) const {
    if (!store_ || request_.storing == Storing::refresh) return std::nullopt;
    const auto blob = store_->read("result", key);
    if (!blob) return std::nullopt;
    return reports::read_result_json(*blob);
  }

  void keep(const std::string& key, const Result& result) {
    if (!store_) return;
    try {
      store_->write("result", key, reports::result_json(result, reports::Times::keep));
    } catch (const StoreUnusable& error) {
      if (!request_.quiet) note(fmt::format("mintspread: the result is not kept for later runs: {}", error.what()));
      store_.reset();
    }
  }

 private:
  const Request& request_;
  std::optional<Store> store_;
};

/// One coin of the request. It has an earlier result or a study.
struct Job {
  specs::Specification specification;
  std::string key;
  std::optional<Result> earlier;
  std::optional<study::Study> study;
  bool finite = false;  ///< `study` is of coins in their finite size
};

study::RunOptions run_options(const Request& request) {
  study::RunOptions options;
  options.seed = request.seed;
  options.pieces = request.pieces;
  options.until = request.until;
  options.points = request.sobol ? study::Points::sobol : study::Points::plain;
  options.outer_draws = request.outer_draws;
  options.outer_pieces = std::min(options.outer_pieces, request.pieces);
  options.threads = request.threads;
  return options;
}

study::LotOptions lot_options(const Request& request) {
  study::LotOptions lots;
  lots.seed = request.seed;
  lots.lots = request.lots;
  lots.group = request.lot;
  lots.rates = request.lot_rates;
  lots.threads = request.threads;
  return lots;
}

/// Throws Rejected when any specification has a mistake: then nothing is run.
std::vector<Job> examine(const Request& request, const Console& console, const EarlierResults& earlier_results) {
  Examination examination(request, console);
  std::vector<Job> jobs;
  for (const auto& file : request.specifications) {
    auto specification = examination.read(file);
    if (!specification) continue;
    std::string key = result_key(*specification, run_options(request), request);
    std::optional<Result> earlier = earlier_results.find(key);
    std::optional<study::Study> study;
    if (request.until) {
      if (const auto problem = study::check(*request.until, specification->model))
        throw UsageError(fmt::format("--until: {}: {}; {}", file.string(), problem->what, problem->remedy));
    }
    if (request.lots > 0) {
      if (const auto problem = study::check(lot_options(request), specification->model))
        throw UsageError(fmt::format("--lots: {}: {}; {}", file.string(), problem->what, problem->remedy));
    }
    if (!earlier) study = examination.prepare(specification);
    jobs.push_back({std::move(*specification), std::move(key), std::move(earlier), std::move(study), false});
  }
  examination.finish("nothing was run");
  return jobs;
}

/// The study of a job as the request wants it; one that was answered from the store has not been prepared.
const study::Study& study_of(Job& job, const Request& request, const Console& console, const Interrupt& interrupt) {
  if (!job.study) {
    job.study.emplace(job.specification.model,
                      study::StudyOptions{.planar_tolerance = request.tolerance, .provisional = !request.planar});
    job.finite = false;
  }
  if (!request.planar && !job.finite) {
    try {
      job.study.emplace(make_finite(std::move(*job.study), request, console, interrupt.token()));
    } catch (const InvalidSpecification& error) {
      Examination(request, console).reject(job.specification, error.problems());
    }
    job.finite = true;
  }
  return *job.study;
}

Result computed(Job& job, const Request& request, const Console& console, const Interrupt& interrupt) {
  const study::Study& study = study_of(job, request, console, interrupt);
  std::optional<ProgressLine> progress;
  if (!request.quiet) progress.emplace(job.specification.model.name, console);
  study::RunOptions options = run_options(request);
  options.progress = [&progress](double fraction) {
    if (progress) progress->tell(fraction);
  };
  options.stop = interrupt.token();
  Result result = study::run(study, options);
  if (const auto rough = study::rough_surfaces(result); !rough.empty()) throw InvalidSpecification(rough);
  const study::Study::Prepared& prepared = study.prepared();
  study::add_budgets(prepared, result);
  if (request.shares) {
    study::ShareOptions shares;
    shares.seed = options.seed;
    shares.threads = options.threads;
    shares.stop = options.stop;
    study::add_shares(prepared, shares, result);
  }
  if (request.lots > 0) {
    study::LotOptions lots = lot_options(request);
    lots.stop = options.stop;
    study::add_lots(prepared, lots, result);
  }
  result.provenance.specification_hash = job.specification.hash;
  for (const specs::Diagnostic& warning : job.specification.warnings)
    result.warnings.push_back(fmt::format("{}: {}", warning.path, warning.what));
  return result;
}

/// What a run finds wrong is told at its place in the file.
Result simulate(Job& job, const Request& request, const Console& console, const Interrupt& interrupt) {
  try {
    return computed(job, request, console, interrupt);
  } catch (const InvalidSpecification& error) {
    Examination(request, console).reject(job.specification, error.problems());
  }
}

/// Every piece of the run behind a result, in a file that has no name yet.
WholeFile samples_file(const std::filesystem::path& path, const study::Study& study, const Result& result,
                       const Request& request, const Console& console, const Interrupt& interrupt) {
  const reports::SampleFormat format = *sample_format(path);
  std::optional<ProgressLine> progress;
  if (!request.quiet) progress.emplace("samples of " + result.coin, console);
  study::RunOptions options = run_options(request);
  options.progress = [&progress](double fraction) {
    if (progress) progress->tell(fraction);
  };
  options.stop = interrupt.token();
  const std::uint64_t pieces = result.provenance.pieces;
  WholeFile file(path, reports::samples_header(format, study::sample_columns(study), pieces), Privacy::confidential);
  study::for_each_sample(
      study, options, pieces,
      [format](const Columns& values, std::size_t rows) { return reports::samples_rows(format, values, rows); },
      [&file](std::string_view rows) { file.append(rows); });
  file.flush();
  return file;
}

/// Two coins drawn with common numbers: what is different, with its interval.
void tell_difference(std::vector<Job>& jobs, const Request& request, const Console& console,
                     const Interrupt& interrupt) {
  study::RunOptions options = run_options(request);
  options.stop = interrupt.token();
  const study::Comparison difference = study::compare(study_of(jobs[0], request, console, interrupt),
                                                      study_of(jobs[1], request, console, interrupt), options);
  print(reports::difference_text(difference, {console.width, console.colour}));
}

/// Files that appear together, or none of them.
class Delivery {
 public:
  Delivery(const Request& request, const Console& console) : request_(request), console_(console) {}

  template <typename Write>
  void add(const std::optional<std::filesystem::path>& path, Write write) {
    if (!path) return;
    if (*path == "-") {
      standard_output_ += write();
    } else {
      files_.emplace_back(WholeFile(*path, write(), Privacy::confidential), *path);
    }
  }
  void add(WholeFile file, const std::filesystem::path& path) { files_.emplace_back(std::move(file), path); }
  void add_table(const Result& result) {
    standard_output_ += reports::run_text(result, {console_.width, console_.colour});
  }

  /// Standard output comes last: it cannot be taken back.
  void complete() {
    for (auto& [file, path] : files_) file.commit();
    print(standard_output_);
    if (request_.quiet) return;
    for (const auto& [file, path] : files_) note(fmt::format("written: {}", path.string()));
  }

 private:
  const Request& request_;
  const Console& console_;
  std::vector<std::pair<WholeFile, std::filesystem::path>> files_;
  std::string standard_output_;
};

void deliver(const Result& result, const Outputs& outputs, bool table, const Request& request, const Console& console,
             const std::function<WholeFile(const std::filesystem::path&)>& samples) {
  const auto times = request.times ? reports::Times::keep : reports::Times::leave_out;
  Delivery delivery(request, console);
  delivery.add(outputs.json, [&] { return reports::result_json(result, times); });
  delivery.add(outputs.csv, [&] { return reports::result_csv(result); });
  delivery.add(outputs.page,
               [&] { return reports::result_page(result, {.audience = request.audience, .times = times}); });
  if (outputs.samples) delivery.add(samples(*outputs.samples), *outputs.samples);
  if (table) delivery.add_table(result);
  delivery.complete();
}

}  // namespace

int run_command(const Request& request) {
  const Console console = inspect_console();
  const OutputPlan plan = plan_outputs(request);
  const Interrupt interrupt;
  EarlierResults earlier_results(request);
  std::vector<Result> results;
  try {
    std::vector<Job> jobs = examine(request, console, earlier_results);
    for (std::size_t i = 0; i < jobs.size(); ++i) {
      Job& job = jobs[i];
      if (job.earlier && !request.quiet)
        note(fmt::format("{}: computed by an earlier run and kept (--fresh computes it anew)",
                         job.specification.model.name));
      Result result = job.earlier ? std::move(*job.earlier) : simulate(job, request, console, interrupt);
      if (!job.earlier) earlier_results.keep(job.key, result);
      result.provenance.specification_file = job.specification.file;
      if (!request.times) {
        // The table says how long a run took on how many threads, unless both are unknown.
        result.provenance.seconds = 0.0;
        result.provenance.threads = 0;
      }
      deliver(result, plan.each[i], !plan.replaces_table, request, console, [&](const std::filesystem::path& path) {
        return samples_file(path, study_of(job, request, console, interrupt), result, request, console, interrupt);
      });
      results.push_back(std::move(result));
      if (jobs.size() != 2) job.study.reset();
    }
    Delivery comparison(request, console);
    comparison.add(plan.comparison, [&] {
      return reports::comparison_page(results, request.times ? reports::Times::keep : reports::Times::leave_out);
    });
    comparison.complete();
    if (jobs.size() == 2 && !plan.replaces_table) tell_difference(jobs, request, console, interrupt);
  } catch (const study::Interrupted&) {
    note("mintspread: interrupted; nothing of the coin at work was written");
    return interrupt.exit_status();
  }
  const bool missed = std::ranges::any_of(results, [](const Result& result) {
    return (result.precision && !result.precision->met) ||
           !std::ranges::all_of(result.targets, &study::TargetResult::met);
  });
  return missed ? 1 : 0;
}

}  // namespace mintspread::program
