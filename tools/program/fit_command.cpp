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
#include "specs/fitted_text.hpp"
#include "specs/gauge.hpp"
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

/// A gauge as it bears on a column: in the unit that the fit is told in.
struct ColumnGauge {
  std::string name = "as stated", file;
  measured::GaugeError error;
  specs::Stretch repeatability;
  std::optional<std::pair<double, double>> range;  ///< of readings
  double from_column = 1.0;                        ///< factor from the column's unit

  void at_mean(double mean) {
    error.repeatability = repeatability.relative ? repeatability.size * std::abs(mean) : repeatability.size;
  }
};

/// What was read, reduced to the values of one column.
struct Column {
  specs::ReadTable table;
  std::vector<double> values;
  std::vector<measured::Censored> censored;
  std::optional<statistics::NestedGroups> groups;
  std::vector<std::uint64_t> outside;  ///< of each gauge's range
  double error_variance = 0.0;         ///< mean over the values
  std::uint64_t censored_left_out = 0;
};

/// Sums over the rows that every gauge has read.
struct Common {
  std::vector<double> mean;  ///< of corrected readings
  std::uint64_t rows = 0;
};

Common read_common(const Request& request, const std::vector<ColumnGauge>& gauges) {
  Common out;
  out.mean.assign(gauges.size(), 0.0);
  specs::read_measurements(request.specifications.front().string(), request.columns, request.groups,
                           [&](std::span<const Reading> readings, std::span<const std::string_view>) {
                             if (!std::all_of(readings.begin(), readings.end(),
                                              [](const Reading& r) { return r.kind == Reading::Kind::value; }))
                               return;
                             ++out.rows;
                             for (std::size_t i = 0; i < readings.size(); ++i)
                               out.mean[i] += gauges[i].error.corrected(readings[i].value * gauges[i].from_column);
                           });
  for (double& mean : out.mean) mean /= static_cast<double>(std::max<std::uint64_t>(out.rows, 1));
  return out;
}

/// One value a row: the reading without its bias, or the weighted mean of those of several gauges.
Column read_column(const Request& request, const std::vector<ColumnGauge>& gauges, const std::vector<double>& weights) {
  Column out;
  out.outside.assign(gauges.size(), 0);
  if (!request.groups.empty()) out.groups.emplace(request.groups.size());
  const auto take = [&](std::span<const Reading> readings, std::span<const std::string_view> names) {
    double sum = 0.0, weight = 0.0, variance = 0.0;
    for (std::size_t i = 0; i < readings.size(); ++i) {
      const Reading& reading = readings[i];
      if (reading.kind == Reading::Kind::gap) continue;
      const double read = reading.value * gauges[i].from_column, value = gauges[i].error.corrected(read);
      if (reading.kind != Reading::Kind::value) {
        if (gauges.size() == 1)
          out.censored.push_back({value, reading.kind == Reading::Kind::below});
        else
          ++out.censored_left_out;
        continue;
      }
      if (gauges[i].range && (read < gauges[i].range->first || read > gauges[i].range->second)) ++out.outside[i];
      sum += weights[i] * value, weight += weights[i];
      variance += weights[i] * weights[i] * gauges[i].error.error_sd() * gauges[i].error.error_sd();
    }
    if (!(weight > 0.0)) return;
    const double value = sum / weight;
    out.values.push_back(value);
    out.error_variance += variance / (weight * weight);
    const bool grouped = std::none_of(names.begin(), names.end(), [](std::string_view name) { return name.empty(); });
    if (out.groups && grouped) out.groups->add(names, value);
  };
  out.table = specs::read_measurements(request.specifications.front().string(), request.columns, request.groups, take);
  if (!out.values.empty()) out.error_variance /= static_cast<double>(out.values.size());
  return out;
}

/// Gauges of the columns: from files, or from numbers of the command line.
std::vector<ColumnGauge> gauges_of(const Request& request, const specs::ReadTable& heading, const MeasuredUnit& unit,
                                   const Options& options) {
  std::vector<ColumnGauge> out(heading.columns.size());
  if (out.size() > 1)
    for (std::size_t i = 0; i < out.size(); ++i) {
      const MeasuredUnit own = request.unit ? unit : unit_of(heading.columns[i].unit, "in the heading of a column");
      if (own.dimension != unit.dimension || own.unit.offset != unit.unit.offset)
        throw Rejected(fmt::format("the columns `{}` and `{}` are not of one kind", heading.columns[0].name,
                                   heading.columns[i].name));
      out[i].from_column = own.unit.scale / unit.unit.scale;
    }
  std::vector<specs::Gauge> files;
  for (std::size_t i = 0; i < request.gauges.size(); ++i) {
    const specs::Gauge file = specs::read_gauge_file(request.gauges[i]);
    if (file.dimension != unit.dimension)
      throw Rejected(fmt::format("the gauge {} reads {}, but the column is {}", request.gauges[i],
                                 specs::name_of(file.dimension), specs::name_of(unit.dimension)));
    // Columns are readings of the same pieces, so what is combined must be one quantity at one place.
    for (std::size_t j = 0; j < i; ++j) {
      const auto apart = [](const std::string& a, const std::string& b) { return !a.empty() && !b.empty() && a != b; };
      const specs::Gauge& other = files[j];
      if (apart(file.layer, other.layer) || apart(file.element, other.element) || apart(file.at, other.at))
        throw Rejected(fmt::format("the gauge {} reads {}, but {} reads {}: their readings cannot be combined",
                                   request.gauges[i], specs::told(file), request.gauges[j], specs::told(other)));
    }
    files.push_back(file);
    const double scale = unit.unit.scale;
    ColumnGauge& gauge = out[i];
    gauge.name = file.name, gauge.file = request.gauges[i];
    gauge.error = {file.bias / scale, file.proportional_bias, 0.0, file.bias_uncertainty / scale, file.pieces};
    gauge.repeatability = {file.repeatability.relative ? file.repeatability.size : file.repeatability.size / scale,
                           file.repeatability.relative};
    if (file.range) gauge.range = std::pair{file.range->first / scale, file.range->second / scale};
  }
  if (request.bias) {
    const specs::Stretch bias = options.stretch("--bias", *request.bias);
    (bias.relative ? out[0].error.proportional_bias : out[0].error.bias) = bias.size;
    if (out[0].error.proportional_bias <= -1.0) throw UsageError("fit: --bias leaves nothing of a value");
  }
  if (request.repeatability) {
    out[0].repeatability = options.stretch("--repeatability", *request.repeatability);
    if (!(out[0].repeatability.size >= 0.0))
      throw UsageError("fit: --repeatability is a standard deviation, which is not negative");
  }
  for (const ColumnGauge& gauge : out)
    if (gauge.error.pieces_a_reading != out[0].error.pieces_a_reading)
      throw Rejected("readings of one piece and means of several cannot be combined");
  return out;
}

void tell_gauges(const std::vector<ColumnGauge>& gauges, const Column& column, const measured::Observations& o,
                 const Common& common, const measured::Combination& combination, measured::MeasuredResult& result) {
  measured::GaugeEffect& effect = result.gauge.emplace();
  std::vector<measured::GaugeError> errors;
  for (const ColumnGauge& gauge : gauges) errors.push_back(gauge.error);
  std::vector<measured::Disagreement> apart;
  if (gauges.size() > 1 && common.rows > 0)
    apart = measured::disagreements(errors, combination, common.mean, common.rows);
  for (std::size_t i = 0; i < gauges.size(); ++i) {
    measured::GaugeRow& row = effect.gauges.emplace_back();
    const measured::GaugeError& error = gauges[i].error;
    row.column = column.table.columns[i].name, row.name = gauges[i].name, row.file = gauges[i].file;
    row.bias = error.bias, row.proportional_bias = error.proportional_bias;
    row.bias_uncertainty = error.bias_uncertainty, row.repeatability = error.repeatability;
    row.pieces_a_reading = error.pieces_a_reading;
    row.weight = combination.weights[i];
    row.outside_range = column.outside[i];
    if (apart.empty()) continue;
    row.difference = apart[i].difference, row.difference_uncertainty = apart[i].uncertainty;
  }
  const auto spread = measured::true_spread(o.sd * o.sd - o.step * o.step / 12.0, column.error_variance);
  effect.measured_variance = spread.measured_variance;
  effect.error_variance = spread.error_variance;
  effect.variance = spread.variance;
  effect.pieces_a_reading = gauges.front().error.pieces_a_reading;
}

/// The step values are multiples of, by how they are written: a decimal place, or two or five of it.
double written_step(const specs::ReadColumn& column, const std::vector<double>& values,
                    const measured::GaugeError& gauge) {
  constexpr std::size_t enough = 20;  // values that happen to be even are rare among so many
  const double step = std::pow(10.0, -column.decimals);
  if (column.decimals > 15 || values.size() < enough) return column.decimals > 15 ? 0.0 : step;
  for (const double multiple : {10.0, 5.0, 2.0}) {
    const bool all = std::all_of(values.begin(), values.end(), [&](double value) {
      const double read = value * (1.0 + gauge.proportional_bias) + gauge.bias;
      return std::abs(std::remainder(std::round(read / step), multiple)) < 0.5;
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
  try {
    // The heading tells the unit, and the unit what the options mean.
    const specs::ReadTable heading = specs::read_measurements(file, request.columns, request.groups, {});
    const std::string unit_name = request.unit.value_or(heading.columns.front().unit);
    const MeasuredUnit unit = unit_of(unit_name, request.unit ? "of --unit" : "in the heading of the column");
    const Options options(unit);
    std::vector<ColumnGauge> gauges = gauges_of(request, heading, unit, options);
    measured::FitOptions fitting;
    if (request.sorted) fitting.kept = options.limits("--sorted", *request.sorted);
    fitting.draws = request.draws;
    fitting.seed = request.seed;

    // Repeatabilities in per cent, and the weights of several gauges, need their means beforehand.
    Common common;
    const bool relative =
        std::any_of(gauges.begin(), gauges.end(), [](const auto& g) { return g.repeatability.relative; });
    if (gauges.size() > 1 || relative) common = read_common(request, gauges);
    std::vector<measured::GaugeError> errors;
    for (std::size_t i = 0; i < gauges.size(); ++i) {
      gauges[i].at_mean(common.mean.empty()
                            ? 0.0
                            : common.mean[i] * (1.0 + gauges[i].error.proportional_bias) + gauges[i].error.bias);
      errors.push_back(gauges[i].error);
    }
    const measured::Combination combination = measured::combine(errors);
    Column column = read_column(request, gauges, combination.weights);
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

    if (column.censored_left_out > 0 && !request.quiet)
      note(fmt::format("{}: warning: {} readings beyond a limit are left out, since others read the same piece", file,
                       column.censored_left_out));
    // A mean of several readings has no step of its own.
    double step = gauges.size() > 1 ? 0.0 : written_step(column.table.columns.front(), column.values, gauges[0].error);
    if (request.resolution) {
      const specs::Stretch stated = options.stretch("--resolution", *request.resolution);
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
      result.groups = measured::group_rows(request.groups, column.groups->variances());

    const bool with_gauge = request.bias || request.repeatability || !request.gauges.empty();
    if (with_gauge) tell_gauges(gauges, column, observations, common, combination, result);
    const double error_variance = column.error_variance;
    const std::uint64_t pieces = gauges.front().error.pieces_a_reading;
    for (std::size_t i = 0; i < fits.size(); ++i)
      if (fits[i].obstacle.empty())
        if (const auto cleared = measured::without_error(fits[i].placed, error_variance); cleared && pieces == 1)
          result.shapes[i].line = specs::fitted_text(cleared->at, cleared->deviation, unit_name,
                                                     fmt::format(", basis: measured n={}", result.values));
    result.group_line = group_line(result, error_variance, pieces);
    result.data_line =
        fmt::format("{{shape: measured, data: {{file: {}, column: {}{}{}, smooth: true}}, basis: measured n={}}}",
                    yaml_text(request.specifications.front().filename().string()), yaml_text(result.column),
                    unit_name.empty() ? "" : ", unit: " + yaml_text(unit_name),
                    request.gauges.empty()
                        ? ""
                        : ", gauge: " + yaml_text(std::filesystem::path(request.gauges.front()).filename().string()),
                    result.values);
    if (gauges.size() > 1) result.data_line.clear();

    // Both are whole before the first of them is named.
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
  } catch (const specs::RejectedSpecification& rejected) {
    tell(rejected.diagnostics, request, console);
    throw Rejected(fmt::format("{} {}; nothing was fitted", rejected.diagnostics.size(),
                               rejected.diagnostics.size() == 1 ? "mistake" : "mistakes"));
  }
  return 0;
}

}  // namespace mintspread::program
