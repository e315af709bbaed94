#include "specs/data_gauge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numeric>

#include "engine/measured/gauge_error.hpp"
#include "specs/number.hpp"
#include "specs/override.hpp"

namespace mintspread::specs {

namespace {

/// Whether `path` is that of a layer, by its step or in a section, and of another one than the gauge reads.
bool of_another_layer(const std::string& path, const std::string& layer) {
  const bool layered = path.starts_with("bath.") || path.starts_with("section.layers.");
  return layered && !layer.empty() && path.find("." + layer + ".") == std::string::npos;
}

bool at_another_place(const std::string& place, const std::string& at) {
  if (place.empty() || at.empty()) return false;
  return place == "face" ? at == "rim" : place != at;
}

/// Part of a metal's mass that an element is; all of it where nothing is known of the metal.
double part_of(const std::string& element, const std::vector<materials::Constituent>& metal) {
  for (const materials::Constituent& one : metal) {
    if (one.element == element) return one.part;
  }
  return metal.empty() ? 1.0 : 0.0;
}

}  // namespace

std::optional<Gauge> open_gauge(const Node& file, const Fields& data, const MeasuredUnit& unit,
                                const StatementReader& reader) {
  Context& context = reader.context();
  const Source* source = context.open(file, data.path("gauge"), "the gauge file");
  auto root = source ? parse_yaml(*source, context.findings) : std::nullopt;
  if (!root) return std::nullopt;
  apply_gauge_overrides(data.path("gauge"), *root, context);
  auto gauge = read_gauge(*root, context);
  if (gauge && gauge->dimension != unit.dimension) {
    reader.error(
        file.at, "data.gauge",
        fmt::format("the gauge reads {}, but the data are {}", name_of(gauge->dimension), name_of(unit.dimension)), "");
    return std::nullopt;
  }
  if (gauge && of_another_layer(reader.path(), gauge->layer)) {
    context.findings.error(file.at, data.path("gauge"),
                           fmt::format("the gauge reads {}, but another layer stands here", told(*gauge)),
                           "Name a gauge of this layer, or mend `layer` in the gauge file.");
    return std::nullopt;
  }
  const std::string& place = reader.rule().place;
  if (gauge && at_another_place(place, gauge->at)) {
    context.findings.error(
        file.at, data.path("gauge"),
        fmt::format("the gauge reads {}, but the quantity is that {}", told(*gauge),
                    place == "rim"    ? "on the rim"
                    : place == "face" ? "of the faces"
                                      : "at the " + place),
        reader.path().starts_with("bath.")
            ? "State the place that was read with `at` beside `data`, or mend `at` in the gauge file."
            : "Name a gauge that reads there, or mend `at` in the gauge file.");
    return std::nullopt;
  }
  if (gauge && !gauge->layer.empty() && reader.path().find("." + gauge->layer + ".") == std::string::npos)
    context.findings.warning(file.at, data.path("gauge"),
                             fmt::format("the gauge reads {}, which is not what stands here", told(*gauge)), "");
  if (gauge && gauge->reads == Gauge::Reads::element_mass) {
    const double part = part_of(gauge->element, reader.rule().composition);
    if (part == 0.0) {
      context.findings.error(
          file.at, data.path("gauge"),
          fmt::format("the gauge reads {}, which the composition of this layer does not hold", told(*gauge)),
          "Name a gauge of this layer's metal, or mend `element` in the gauge file.");
      return std::nullopt;
    }
  }
  if (gauge && (gauge->reads == Gauge::Reads::element_mass || gauge->reads == Gauge::Reads::non_magnetic_layers))
    context.gauged.push_back({file.at, data.path("gauge"), reader.path(), told(*gauge), gauge->element});
  return gauge;
}

std::string without_gauge(const Gauge& gauge, std::vector<double>& values, const Node& file, const Unit& unit,
                          const StatementReader& reader) {
  const auto outside = std::count_if(values.begin(), values.end(), [&](double v) {
    return gauge.range && (v < gauge.range->first || v > gauge.range->second);
  });
  if (outside > 0)
    reader.context().findings.warning(
        file.at, reader.path(), fmt::format("{} of the measured values lie outside of the range of the gauge", outside),
        "");
  const auto n = static_cast<double>(values.size());
  const double read_mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  const measured::GaugeError error{.bias = gauge.bias,
                                   .proportional_bias = gauge.proportional_bias,
                                   .repeatability = gauge.repeatability_at(read_mean),
                                   .pieces_a_reading = gauge.pieces};
  for (double& v : values) v = error.corrected(v);
  const double mean = std::accumulate(values.begin(), values.end(), 0.0) / n;
  const double sd = sd_of(values, mean), noise = error.error_sd();
  const auto factor = measured::shrinkage(sd * sd, noise * noise);
  if (!factor) {
    reader.error(
        file.at, "data.gauge",
        fmt::format("the repeatability of the gauge, {}, is not below the sd of the measured values, {}, so that "
                    "nothing is left of their spread",
                    told_spread(noise, unit), told_spread(sd, unit)),
        "State the quantity without spread, or measure with a better gauge.");
    return {};
  }
  const double whole = *factor * std::sqrt(static_cast<double>(gauge.pieces));
  const double part =
      gauge.reads == Gauge::Reads::element_mass ? part_of(gauge.element, reader.rule().composition) : 1.0;
  for (double& v : values) v = (mean + (v - mean) * whole) / part;
  std::string words = fmt::format("without the error of {} (repeatability {}, sd as read {})", gauge.name,
                                  told_spread(noise, unit), told_spread(sd, unit));
  if (part < 1.0)
    words += fmt::format(", of the whole layer, {} % of which is {}", short_number(part * 100, 4), gauge.element);
  if (gauge.pieces > 1) words += fmt::format(", of single pieces, readings being means of {}", gauge.pieces);
  return words;
}

double sd_of(const std::vector<double>& values, double mean) {
  double squares = 0;
  for (double v : values) squares += (v - mean) * (v - mean);
  return std::sqrt(squares / static_cast<double>(values.size() - 1));
}

}  // namespace mintspread::specs
