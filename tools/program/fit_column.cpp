#include "tools/program/fit_column.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "specs/gauge.hpp"
#include "tools/program/examination.hpp"

namespace mintspread::program {

using specs::Reading;

std::vector<ColumnGauge> gauges_of(const Request& request, const specs::ReadTable& heading,
                                   const specs::MeasuredUnit& unit, const FitNumbers& numbers) {
  std::vector<ColumnGauge> out(heading.columns.size());
  if (out.size() > 1)
    for (std::size_t i = 0; i < out.size(); ++i) {
      const specs::MeasuredUnit own =
          request.unit ? unit : fit_unit(heading.columns[i].unit, "in the heading of a column");
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
    gauge.error = {.bias = file.bias / scale,
                   .proportional_bias = file.proportional_bias,
                   .bias_uncertainty = file.bias_uncertainty / scale,
                   .bias_freedom = file.bias_freedom,
                   .freedom = file.readings > 0 ? static_cast<double>(file.readings - 1) : 0.0,
                   .pieces_a_reading = file.pieces};
    gauge.repeatability = {file.repeatability.relative ? file.repeatability.size : file.repeatability.size / scale,
                           file.repeatability.relative};
    if (file.range) gauge.range = std::pair{file.range->first / scale, file.range->second / scale};
  }
  if (request.bias) {
    const specs::Stretch bias = numbers.stretch("--bias", *request.bias);
    (bias.relative ? out[0].error.proportional_bias : out[0].error.bias) = bias.size;
    if (out[0].error.proportional_bias <= -1.0) throw UsageError("fit: --bias leaves nothing of a value");
  }
  if (request.repeatability) {
    out[0].repeatability = numbers.stretch("--repeatability", *request.repeatability);
    if (!(out[0].repeatability.size >= 0.0))
      throw UsageError("fit: --repeatability is a standard deviation, which is not negative");
  }
  for (const ColumnGauge& gauge : out)
    if (gauge.error.pieces_a_reading != out[0].error.pieces_a_reading)
      throw Rejected("readings of one piece and means of several cannot be combined");
  return out;
}

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

Column read_column(const Request& request, const std::vector<ColumnGauge>& gauges, const std::vector<double>& weights) {
  Column out;
  out.outside.assign(gauges.size(), 0);
  out.error_parts.assign(gauges.size(), 0.0);
  out.shares.assign(gauges.size(), 0.0);
  std::vector<double> parts(gauges.size()), used(gauges.size());
  if (!request.groups.empty()) out.groups.emplace(request.groups.size());
  const auto take = [&](std::span<const Reading> readings, std::span<const std::string_view> names) {
    double sum = 0.0, weight = 0.0;
    std::ranges::fill(parts, 0.0);
    std::ranges::fill(used, 0.0);
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
      used[i] = weights[i];
      parts[i] = weights[i] * weights[i] * gauges[i].error.error_sd() * gauges[i].error.error_sd();
    }
    if (!(weight > 0.0)) return;
    const double value = sum / weight;
    out.values.push_back(value);
    for (std::size_t i = 0; i < parts.size(); ++i) {
      out.error_parts[i] += parts[i] / (weight * weight);
      out.shares[i] += used[i] / weight;
    }
    const bool grouped = std::none_of(names.begin(), names.end(), [](std::string_view name) { return name.empty(); });
    if (out.groups && grouped) out.groups->add(names, value);
  };
  out.table = specs::read_measurements(request.specifications.front().string(), request.columns, request.groups, take);
  const auto values = static_cast<double>(std::max<std::size_t>(out.values.size(), 1));
  for (double& part : out.error_parts) {
    part /= values;
    out.error_variance += part;
  }
  for (double& share : out.shares) share /= values;
  return out;
}

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

}  // namespace mintspread::program
