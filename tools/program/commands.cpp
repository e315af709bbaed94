#include "tools/program/commands.hpp"

#include <fmt/format.h>

#include <optional>
#include <string>
#include <utility>

#include "engine/base/whole_file.hpp"
#include "engine/study/finite.hpp"
#include "engine/study/study.hpp"
#include "engine/study/version.hpp"
#include "reports/json.hpp"
#include "reports/text.hpp"
#include "tools/program/console.hpp"
#include "tools/program/examination.hpp"
#include "tools/program/fit_command.hpp"
#include "tools/program/outputs.hpp"
#include "tools/program/run_command.hpp"

namespace mintspread::program {
namespace {

/// The nominal coin in its finite size, unless the request does without.
study::Study in_finite_size(const specs::Specification& specification, study::Study planar, const Request& request) {
  if (request.planar) return planar;
  const study::FinitePreparation preparation(planar, study::FiniteScope::nominal);
  study::FiniteOptions options;
  options.threads = request.threads;
  return study::Study(
      specification.model,
      {.planar_tolerance = request.tolerance, .finite = preparation.solve(options), .provisional = true});
}

study::Result read_nominal(const specs::Specification& specification, const study::Study& study) {
  study::Result result = study::nominal_reading(study);
  result.provenance.specification_file = specification.file;
  result.provenance.specification_hash = specification.hash;
  return result;
}

int check_command(const Request& request) {
  const Console console = inspect_console();
  Examination examination(request, console);
  for (const auto& file : request.specifications) {
    const auto specification = examination.read(file);
    const auto study = examination.prepare(specification);
    if (!study) continue;
    examination.tell_warnings(*specification, *study);
    if (!request.quiet)
      print(reports::inputs_text(read_nominal(*specification, *study), {console.width, console.colour}));
  }
  examination.finish("mend them before a run");
  return 0;
}

int reading_command(const Request& request) {
  const Console console = inspect_console();
  const OutputPlan plan = plan_outputs(request);
  const Outputs& outputs = plan.each.front();
  Examination examination(request, console);
  const auto specification = examination.read(request.specifications.front());
  auto study = examination.prepare(specification);
  examination.finish("nothing was read");
  std::optional<study::Study> finite;
  try {
    finite.emplace(in_finite_size(*specification, std::move(*study), request));
  } catch (const InvalidSpecification& error) {
    examination.reject(*specification, error.problems());
  }
  examination.tell_warnings(*specification, *finite);
  const study::Result result = read_nominal(*specification, *finite);
  const auto json = [&] {
    return reports::result_json(result, request.times ? reports::Times::keep : reports::Times::leave_out);
  };
  if (outputs.json && *outputs.json != "-") write_whole(*outputs.json, json(), Privacy::confidential);
  print(plan.replaces_table ? json() : reports::reading_text(result, {console.width, console.colour}));
  return 0;
}

}  // namespace

int execute(const Request& request) {
  switch (request.command) {
    case Command::help:
      print(request.help);
      return 0;
    case Command::version:
      print(fmt::format("mintspread {} (model {}, result format {}.{})\n", study::engine_version, study::model_version,
                        study::result_format_major, study::result_format_minor));
      return 0;
    case Command::run:
      return run_command(request);
    case Command::reading:
      return reading_command(request);
    case Command::check:
      return check_command(request);
    case Command::fit:
      return fit_command(request);
  }
  return 0;
}

}  // namespace mintspread::program
