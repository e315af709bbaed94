#include "tools/program/fit_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/whole_file.hpp"
#include "engine/measured/gauge_error.hpp"
#include "engine/measured/summary.hpp"
#include "reports/measured.hpp"
#include "specs/csv.hpp"
#include "specs/files.hpp"
#include "specs/fitted_text.hpp"
#include "specs/measurements.hpp"
#include "tools/program/console.hpp"
#include "tools/program/examination.hpp"
#include "tools/program/fit_column.hpp"
#include "tools/program/fit_numbers.hpp"

namespace mintspread::program {
namespace {

constexpr double confidence = 0.95;

void tell(const std::vector<specs::Diagnostic>& diagnostics, const Request& request, const Console& console) {
  for (const specs::Diagnostic& one : diagnostics)
    if (one.severity == specs::Severity::error || !request.quiet)
      std::fputs(render(one, console.message_colour ? specs::Colour::ansi : specs::Colour::none).c_str(), stderr);
}

void tell_gauges(const std::vector<ColumnGauge>& gauges, const Column& column, const measured::Observations& o,
                 const Common& common, const measured::Combination& combination, measured::MeasuredResult& result) {
  measured::GaugeEffect& effect = result.gauge.emplace();
  std::vector<measured::GaugeError> errors;
  for (const ColumnGauge& gauge : gauges) errors.push_back(gauge.error);
  std::vector<measured::Disagreement> apart;
  if (gauges.size() > 1 && common.rows > 0)
    apart = measured::disagreements(errors, combination, common.mean, common.rows, confidence);
  for (std::size_t i = 0; i < gauges.size(); ++i) {
    measured::GaugeRow& row = effect.gauges.emplace_back();
    const measured::GaugeError& error = gauges[i].error;
    row.column = column.table.columns[i].name, row.name = gauges[i].name, row.file = gauges[i].file;
    row.bias = error.bias, row.proportional_bias = error.proportional_bias;
    row.bias_uncertainty = error.bias_uncertainty, row.repeatability = error.repeatability;
    row.bias_freedom = error.bias_freedom, row.freedom = error.freedom;
    row.pieces_a_reading = error.pieces_a_reading;
    row.weight = combination.weights[i];
    row.outside_range = column.outside[i];
    if (apart.empty()) continue;
    row.difference = apart[i].difference, row.difference_uncertainty = apart[i].uncertainty.standard;
    row.difference_expanded = apart[i].uncertainty.expanded;
  }
  const auto spread = measured::true_spread(o.sd * o.sd - o.step * o.step / 12.0, column.error_variance);
  effect.measured_variance = spread.measured_variance;
  effect.error_variance = spread.error_variance;
  effect.variance = spread.variance;
  const double rounding = o.step * o.step / 12.0;
  const measured::Range of_readings{result.sd_lower * result.sd_lower - rounding,
                                    result.sd_upper * result.sd_upper - rounding};
  effect.measured_interval = {std::max(0.0, of_readings.lower), std::max(0.0, of_readings.upper)};
  std::vector<measured::ErrorPart> parts;
  for (std::size_t i = 0; i < gauges.size(); ++i) parts.push_back({column.error_parts[i], gauges[i].error.freedom});
  effect.interval = measured::interval_left(spread.measured_variance, of_readings, parts, confidence);
  const measured::ErrorPart scatter{result.mean_uncertainty * result.mean_uncertainty,
                                    static_cast<double>(result.values - 1)};
  const auto mean = measured::uncertainty_of_mean(scatter, errors, column.shares, confidence);
  effect.mean_uncertainty = mean.standard;
  effect.mean_interval = {result.mean - mean.expanded, result.mean + mean.expanded};
  effect.pieces_a_reading = gauges.front().error.pieces_a_reading;
}

/// Text in a flow mapping; in quotes where YAML would read it otherwise.
std::string yaml_text(const std::string& text) {
  const bool plain = !text.empty() && text.front() != ' ' && text.back() != ' ' && text.front() != '-' &&
                     text.find_first_of(",[]{}:#\"'&*!|>%@`?\\\n\t") == std::string::npos;
  if (plain) return text;
  std::string out = "\"";
  for (char c : text) out += c == '"' || c == '\\' ? std::string("\\") + c : std::string(1, c);
  return out + "\"";
}

std::string group_line(const measured::MeasuredResult& r, double error_variance, std::uint64_t pieces) {
  if (r.groups.empty() || r.groups.back().freedom == 0) return "";
  const double within = (r.groups.back().variance - error_variance) * static_cast<double>(pieces);
  if (!(within > 0.0)) return "";
  std::string varies;
  for (const measured::GroupRow& group : r.groups)
    if (!group.name.empty() && group.freedom > 0 && group.variance > 0.0)
      varies += fmt::format("{}{:.4g}{} per {}", varies.empty() ? "" : ", ", std::sqrt(group.variance),
                            r.unit.empty() ? "" : " " + r.unit, group.name);
  if (!varies.empty()) varies = fmt::format(", varies: [{}]", varies);
  return specs::fitted_text(r.mean, sampling::Normal{std::sqrt(within)}, r.unit,
                            fmt::format("{}, basis: measured n={}", varies, r.values));
}

/// What of a request cannot be, before anything is read.
void expect_sound(const Request& request) {
  const std::string file = request.specifications.front().string();
  for (const auto* place : {&request.json, &request.page}) {
    if (!*place || **place == "-") continue;
    std::error_code none;
    if (std::filesystem::equivalent(**place, file, none))
      throw UsageError("fit: '" + **place + "' is the table itself: give the result its own file");
    expect_writable(**place);
  }
  if (request.json && request.json == request.page)
    throw UsageError("fit: --json and --page would go to one place: give each its own file");
  if (!request.gauges.empty() && (request.bias || request.repeatability))
    throw UsageError("fit: --gauge tells bias and repeatability: give the file or the numbers");
  if (request.columns.size() != std::max<std::size_t>(request.gauges.size(), 1) &&
      (request.columns.size() > 1 || request.gauges.size() > 1))
    throw UsageError(
        "fit: several columns are readings of the same pieces: give each --column its --gauge, in the same order");
}

/// Why a specification, which is stricter with tables than a fit, cannot take the column; empty when it can.
std::string obstacle_to_values(const Request& request, const Column& column) {
  if (request.columns.size() > 1) return "it reads one column, and these are combined of several";
  std::error_code unknown;
  const auto size = std::filesystem::file_size(request.specifications.front(), unknown);
  if (!unknown && size > specs::largest_file)
    return fmt::format("the table is larger than the {} MiB that it reads", specs::largest_file >> 20);
  if (column.table.separator != ',')
    return "it reads fields separated by commas, with decimal points: write the table so";
  if (!column.censored.empty())
    return "it takes no readings of which only a bound is known, and leaving them out would move the spread";
  if (column.table.columns.front().words_for_gaps > 0)
    return "it takes no words for gaps: leave the cells empty where nothing was measured";
  if (request.bias || request.repeatability)
    return "bias and repeatability come off there by a gauge file: write one and name it with --gauge";
  return "";
}

/// The lines a specification takes: the shapes, a normal by group, the values themselves.
void tell_lines(const Request& request, const std::vector<measured::ShapeFit>& fits, double error_variance,
                std::uint64_t pieces, const std::string& data_obstacle, measured::MeasuredResult& result) {
  for (std::size_t i = 0; i < fits.size(); ++i)
    if (fits[i].obstacle.empty())
      if (const auto cleared = measured::without_error(fits[i].placed, error_variance); cleared && pieces == 1)
        result.shapes[i].line = specs::fitted_text(cleared->at, cleared->deviation, result.unit,
                                                   fmt::format(", basis: measured n={}", result.values));
  result.group_line = group_line(result, error_variance, pieces);
  result.data_obstacle = data_obstacle;
  if (!data_obstacle.empty()) return;
  result.data_line =
      fmt::format("{{shape: measured, data: {{file: {}, column: {}{}{}, smooth: true}}, basis: measured n={}}}",
                  yaml_text(request.specifications.front().filename().string()), yaml_text(result.column),
                  result.unit.empty() ? "" : ", unit: " + yaml_text(result.unit),
                  request.gauges.empty()
                      ? ""
                      : ", gauge: " + yaml_text(std::filesystem::path(request.gauges.front()).filename().string()),
                  result.values);
}

/// Both files are whole before the first of them is named.
void write(const Request& request, const measured::MeasuredResult& result, const Console& console) {
  std::vector<WholeFile> files;
  const auto output = [&](const std::optional<std::string>& place, const std::string& text) {
    if (place && *place != "-") files.emplace_back(*place, text, Privacy::confidential);
  };
  const std::string json = request.json ? reports::measured_json(result) : "";
  const std::string page = request.page ? reports::measured_page(result) : "";
  output(request.json, json);
  output(request.page, page);
  for (WholeFile& whole : files) whole.commit();
  print(request.json == "-"   ? json
        : request.page == "-" ? page
                              : reports::measured_text(result, {console.width, console.colour}));
}

/// Read, fit, describe.
measured::MeasuredResult fitted(const Request& request, const Console& console) {
  const std::string file = request.specifications.front().string();
  // The heading tells the unit, and the unit what the options mean.
  const specs::ReadTable heading = specs::read_measurements(file, request.columns, request.groups, {});
  const std::string unit_name = request.unit.value_or(heading.columns.front().unit);
  const specs::MeasuredUnit unit = fit_unit(unit_name, request.unit ? "of --unit" : "in the heading of the column");
  const FitNumbers numbers(unit);
  std::vector<ColumnGauge> gauges = gauges_of(request, heading, unit, numbers);
  measured::FitOptions fitting;
  if (request.sorted) fitting.kept = numbers.limits("--sorted", *request.sorted);
  fitting.draws = request.draws;
  fitting.seed = request.seed;

  // Repeatabilities in per cent, and the weights of several gauges, need their means beforehand.
  Common common;
  const bool relative =
      std::any_of(gauges.begin(), gauges.end(), [](const auto& g) { return g.repeatability.relative; });
  if (gauges.size() > 1 || relative) common = read_common(request, gauges);
  std::vector<measured::GaugeError> errors;
  for (std::size_t i = 0; i < gauges.size(); ++i) {
    gauges[i].at_mean(
        common.mean.empty() ? 0.0 : common.mean[i] * (1.0 + gauges[i].error.proportional_bias) + gauges[i].error.bias);
    errors.push_back(gauges[i].error);
  }
  const measured::Combination combination = measured::combine(errors);
  Column column = read_column(request, gauges, combination.weights);
  tell(column.table.warnings, request, console);
  if (column.values.size() < specs::fewest_values)
    throw Rejected(fmt::format("{}: {} values of `{}` are too few for a distribution; measure at least {} pieces", file,
                               column.values.size(), column.table.columns.front().name, specs::fewest_values));
  measured::MeasuredResult result;
  result.file = file;
  result.column = column.table.columns.front().name;
  result.unit = unit_name;
  result.rows = column.table.rows;
  result.gaps = column.table.columns.front().gaps;
  for (const measured::Censored& one : column.censored) ++(one.below ? result.below_limit : result.above_limit);
  result.draws = request.draws;
  result.seed = request.seed;
  if (fitting.kept) result.sorted_lower = fitting.kept->lower, result.sorted_upper = fitting.kept->upper;

  if (column.censored_left_out > 0 && !request.quiet)
    note(fmt::format("{}: warning: {} readings beyond a limit are left out, since others read the same piece", file,
                     column.censored_left_out));
  // A mean of several readings has no step of its own.
  double step = gauges.size() > 1 ? 0.0 : written_step(column.table.columns.front(), column.values, gauges[0].error);
  if (request.resolution) {
    const specs::Stretch stated = numbers.stretch("--resolution", *request.resolution);
    if (stated.relative || !(stated.size >= 0.0)) throw UsageError("fit: --resolution takes a step, or 0 for none");
    step = stated.size;
    result.step_stated = true;
  }
  step /= 1.0 + gauges[0].error.proportional_bias;
  const measured::Observations observations = measured::observe(std::move(column.values), step, column.censored);
  if (!(observations.smallest < observations.largest))
    throw Rejected(fmt::format("{}: all {} values of `{}` are equal, which is no spread to fit", file,
                               observations.values, result.column));
  // Squares of what is larger or smaller than this are no doubles any more.
  const double size = std::max(std::abs(observations.smallest), std::abs(observations.largest));
  if (!(size < 1e100 && observations.sd > 1e-100))
    throw Rejected(fmt::format(
        "{}: the values of `{}` are too large or too close to each other for a fit; tell them in another unit", file,
        result.column));
  result.step = observations.step * (1.0 + gauges[0].error.proportional_bias);
  measured::summarise(observations, result);
  const std::vector<measured::ShapeFit> fits = measured::fit_shapes(observations, fitting);
  measured::describe(fits, observations, result);
  if (column.groups && column.groups->count() >= 2)
    result.groups = measured::group_rows(request.groups, *column.groups);

  const bool with_gauge = request.bias || request.repeatability || !request.gauges.empty();
  if (with_gauge) tell_gauges(gauges, column, observations, common, combination, result);
  tell_lines(request, fits, column.error_variance, gauges.front().error.pieces_a_reading,
             obstacle_to_values(request, column), result);
  return result;
}

}  // namespace

int fit_command(const Request& request) {
  const Console console = inspect_console();
  expect_sound(request);
  try {
    write(request, fitted(request, console), console);
  } catch (const specs::RejectedSpecification& rejected) {
    tell(rejected.diagnostics, request, console);
    throw Rejected(fmt::format("{} {}; nothing was fitted", rejected.diagnostics.size(),
                               rejected.diagnostics.size() == 1 ? "mistake" : "mistakes"));
  }
  return 0;
}

}  // namespace mintspread::program
