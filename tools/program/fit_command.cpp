#include "tools/program/fit_command.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/whole_file.hpp"
#include "engine/measured/gauge_error.hpp"
#include "engine/measured/summary.hpp"
#include "reports/measured.hpp"
#include "specs/csv.hpp"
#include "specs/fitted_text.hpp"
#include "specs/measurements.hpp"
#include "specs/quantity_text.hpp"
#include "tools/program/console.hpp"
#include "tools/program/examination.hpp"

namespace mintspread::program {
namespace {

using measured::Placed;
using specs::MeasuredUnit;
using specs::Reading;

void tell(const std::vector<specs::Diagnostic>& diagnostics, const Request& request, const Console& console) {
  for (const specs::Diagnostic& one : diagnostics)
    if (one.severity == specs::Severity::error || !request.quiet)
      std::fputs(render(one, console.message_colour ? specs::Colour::ansi : specs::Colour::none).c_str(), stderr);
}

MeasuredUnit unit_of(const std::string& text, const std::string& where) {
  const auto read = specs::unit_text(text);
  if (const auto* fault = std::get_if<specs::TextFault>(&read))
    throw Rejected(fmt::format("the unit {}: {}; state it with --unit", where, fault->what));
  return std::get<MeasuredUnit>(read);
}

/// Numbers of options, told in the unit of the column; a number without unit is in it already.
class Options {
 public:
  explicit Options(MeasuredUnit unit) : unit_(std::move(unit)) {}

  specs::QuantityText read(const std::string& option, const std::string& text) const {
    const auto found = specs::quantity_text(text);
    if (const auto* fault = std::get_if<specs::TextFault>(&found))
      throw UsageError(fmt::format("fit: {} '{}': {}. {}", option, text, fault->what, fault->remedy));
    return std::get<specs::QuantityText>(found);
  }
  /// A distance or, in %, a part of the value.
  specs::Stretch stretch(const std::string& option, const std::string& text) const {
    const specs::QuantityText found = read(option, text);
    if (!found.value || found.spread != specs::WrittenSpread::none || !found.level.empty())
      throw UsageError(fmt::format("fit: {} takes one number, as in '0.2 um' or '2 %', not '{}'", option, text));
    if (found.value->has_unit && found.value->measured.unit.name == "%" && unit_.unit.name != "%")
      return {found.value->value / 100.0, true};
    return {told(option, text, *found.value, true), false};
  }
  double told(const std::string& option, const std::string& text, const specs::WrittenNumber& number,
              bool distance) const {
    if (!number.has_unit) return number.value;
    if (number.measured.dimension != unit_.dimension)
      throw UsageError(fmt::format("fit: {} '{}' is {}, but the column is {}", option, text,
                                   specs::name_of(number.measured.dimension), specs::name_of(unit_.dimension)));
    return distance ? number.value * number.measured.unit.scale / unit_.unit.scale
                    : unit_.unit.from_si(specs::to_si(number.value, number.measured.unit));
  }
  measured::Kept limits(const std::string& option, const std::string& text) const {
    const specs::QuantityText found = read(option, text);
    if (found.spread != specs::WrittenSpread::range || !found.value)
      throw UsageError(fmt::format("fit: {} takes limits, as in '16 um .. 20 um', not '{}'", option, text));
    specs::WrittenNumber lower = *found.value;
    const specs::WrittenNumber upper = found.tolerance;
    if (!lower.has_unit) lower.measured = upper.measured, lower.has_unit = upper.has_unit;
    const measured::Kept kept{told(option, text, lower, false), told(option, text, upper, false)};
    if (!(kept.lower < kept.upper))
      throw UsageError(fmt::format("fit: {} '{}' leaves nothing between its limits", option, text));
    return kept;
  }

 private:
  MeasuredUnit unit_;
};

/// What was read, reduced to the values of one column.
struct Column {
  specs::ReadTable table;
  std::vector<double> values;
  std::vector<measured::Censored> censored;
  std::optional<statistics::NestedGroups> groups;
};

Column read_column(const Request& request, const measured::GaugeError& gauge) {
  Column out;
  if (!request.groups.empty()) out.groups.emplace(request.groups.size());
  const auto take = [&](std::span<const Reading> readings, std::span<const std::string_view> names) {
    const Reading& reading = readings.front();
    if (reading.kind == Reading::Kind::gap) return;
    const double value = gauge.corrected(reading.value);
    if (reading.kind != Reading::Kind::value) {
      out.censored.push_back({value, reading.kind == Reading::Kind::below});
      return;
    }
    out.values.push_back(value);
    const bool grouped = std::none_of(names.begin(), names.end(), [](std::string_view name) { return name.empty(); });
    if (out.groups && grouped) out.groups->add(names, value);
  };
  out.table = specs::read_measurements(request.specifications.front().string(), request.columns, request.groups, take);
  return out;
}

/// The step values are multiples of, by how they are written: a decimal place, or two or five of it.
double written_step(const specs::ReadColumn& column, const std::vector<double>& values) {
  constexpr std::size_t enough = 20;  // values that happen to be even are rare among so many
  const double step = std::pow(10.0, -column.decimals);
  if (column.decimals > 15 || values.size() < enough) return column.decimals > 15 ? 0.0 : step;
  for (const double multiple : {10.0, 5.0, 2.0}) {
    const bool all = std::all_of(values.begin(), values.end(), [&](double value) {
      return std::abs(std::remainder(std::round(value / step), multiple)) < 0.5;
    });
    if (all) return multiple * step;
  }
  return step;
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

}  // namespace

int fit_command(const Request& request) {
  const Console console = inspect_console();
  const std::string file = request.specifications.front().string();
  if (request.json && *request.json != "-") expect_writable(*request.json);
  try {
    // The heading tells the unit, and the unit what the options mean.
    const specs::ReadTable heading = specs::read_measurements(file, request.columns, request.groups, {});
    const std::string unit_name = request.unit.value_or(heading.columns.front().unit);
    const MeasuredUnit unit = unit_of(unit_name, request.unit ? "of --unit" : "in the heading of the column");
    const Options options(unit);
    measured::GaugeError gauge;
    bool with_gauge = false;
    if (request.bias) {
      const specs::Stretch bias = options.stretch("--bias", *request.bias);
      (bias.relative ? gauge.proportional_bias : gauge.bias) = bias.size;
      if (gauge.proportional_bias <= -1.0) throw UsageError("fit: --bias leaves nothing of a value");
      with_gauge = true;
    }
    std::optional<specs::Stretch> repeatability;
    if (request.repeatability) {
      repeatability = options.stretch("--repeatability", *request.repeatability);
      if (!(repeatability->size >= 0.0))
        throw UsageError("fit: --repeatability is a standard deviation, which is not negative");
      with_gauge = true;
    }
    measured::FitOptions fitting;
    if (request.sorted) fitting.kept = options.limits("--sorted", *request.sorted);
    fitting.draws = request.draws;
    fitting.seed = request.seed;

    Column column = read_column(request, gauge);
    tell(column.table.warnings, request, console);
    if (column.values.size() < specs::fewest_values)
      throw Rejected(fmt::format("{}: {} values of `{}` are too few for a distribution; measure at least {} pieces",
                                 file, column.values.size(), column.table.columns.front().name, specs::fewest_values));
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

    double step = written_step(column.table.columns.front(), column.values);
    if (request.resolution) {
      const specs::Stretch stated = options.stretch("--resolution", *request.resolution);
      if (stated.relative || !(stated.size >= 0.0)) throw UsageError("fit: --resolution takes a step, or 0 for none");
      step = stated.size;
      result.step_stated = true;
    }
    step /= 1.0 + gauge.proportional_bias;
    const measured::Observations observations = measured::observe(std::move(column.values), step, column.censored);
    if (!(observations.smallest < observations.largest))
      throw Rejected(fmt::format("{}: all {} values of `{}` are equal, which is no spread to fit", file,
                                 observations.values, result.column));
    result.step = observations.step;
    measured::summarise(observations, result);
    const std::vector<measured::ShapeFit> fits = measured::fit_shapes(observations, fitting);
    measured::describe(fits, observations, result);
    if (column.groups && column.groups->count() >= 2)
      result.groups = measured::group_rows(request.groups, column.groups->variances());

    if (repeatability)
      gauge.repeatability =
          repeatability->relative ? repeatability->size * std::abs(observations.mean) : repeatability->size;
    const double error_variance = gauge.error_sd() * gauge.error_sd();
    if (with_gauge) {
      measured::GaugeEffect& effect = result.gauge.emplace();
      effect.gauges.push_back({result.column,
                               "as stated",
                               "",
                               gauge.bias,
                               gauge.proportional_bias,
                               0.0,
                               gauge.repeatability,
                               1,
                               1.0,
                               0,
                               {},
                               {}});
      effect.measured_variance = observations.sd * observations.sd - observations.step * observations.step / 12.0;
      effect.error_variance = error_variance;
      effect.variance = effect.measured_variance - error_variance;
    }
    for (std::size_t i = 0; i < fits.size(); ++i)
      if (fits[i].obstacle.empty())
        if (const auto cleared = measured::without_error(fits[i].placed, error_variance))
          result.shapes[i].line = specs::fitted_text(cleared->at, cleared->deviation, unit_name,
                                                     fmt::format(", basis: measured n={}", result.values));
    result.group_line = group_line(result, error_variance, gauge.pieces_a_reading);
    result.data_line =
        fmt::format("{{shape: measured, data: {{file: {}, column: {}{}, smooth: true}}, basis: measured n={}}}",
                    yaml_text(request.specifications.front().filename().string()), yaml_text(result.column),
                    unit_name.empty() ? "" : ", unit: " + yaml_text(unit_name), result.values);

    const auto json = [&] { return reports::measured_json(result); };
    if (request.json && *request.json != "-") write_whole(*request.json, json(), Privacy::confidential);
    print(request.json && *request.json == "-" ? json()
                                               : reports::measured_text(result, {console.width, console.colour}));
  } catch (const specs::RejectedSpecification& rejected) {
    tell(rejected.diagnostics, request, console);
    throw Rejected(fmt::format("{} {}; nothing was fitted", rejected.diagnostics.size(),
                               rejected.diagnostics.size() == 1 ? "mistake" : "mistakes"));
  }
  return 0;
}

}  // namespace mintspread::program
