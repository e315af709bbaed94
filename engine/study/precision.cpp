#include "engine/study/precision.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <vector>

#include "engine/base/nearest.hpp"
#include "engine/study/figures.hpp"

namespace mintspread::study {

namespace {

std::optional<Problem> unknown(const std::string& kind, const std::string& name,
                               const std::vector<std::string>& known) {
  if (std::ranges::find(known, name) != known.end()) return std::nullopt;
  std::string names;
  for (const auto& one : known) names += (names.empty() ? "" : ", ") + one;
  const auto near = nearest(name, known);
  return Problem{"", "there is no " + kind + " '" + name + "'",
                 near.empty() ? "take one of: " + names : "did you mean '" + std::string(near) + "'?"};
}

bool same(double probability, double other) { return std::abs(probability - other) < 1e-9; }

double half_width_of(const Figure& figure) {
  if (!figure.interval) return std::numeric_limits<double>::quiet_NaN();
  return std::max(figure.value - figure.interval->lower, figure.interval->upper - figure.value);
}

}  // namespace

std::string describe(const Precision& precision) {
  switch (precision.of) {
    case Precision::Of::accepted:
      return precision.name.empty() ? "accepted" : "accepted by " + precision.name;
    case Precision::Of::mean:
      return "mean of " + precision.name;
    case Precision::Of::sd:
      return "sd of " + precision.name;
    case Precision::Of::median:
      return "median of " + precision.name;
    case Precision::Of::quantile:
      break;
  }
  return fmt::format("{:.6g} % quantile of {}", 100.0 * precision.probability, precision.name);
}

std::optional<Problem> check(const Precision& precision, const ProductionModel& model) {
  std::vector<std::string> known;
  if (precision.of == Precision::Of::accepted) {
    if (model.windows.empty()) {
      return Problem{"", "there are no windows, so no coin is accepted or rejected",
                     "state `windows` in the specification"};
    }
    for (const WindowSet& set : model.windows) known.push_back(set.machine_class);
    return precision.name.empty() ? std::nullopt : unknown("machine class", precision.name, known);
  }
  if (precision.of == Precision::Of::quantile) {
    if (std::ranges::none_of(printed_quantiles, [&](double p) { return same(p, precision.probability); })) {
      return Problem{"", fmt::format("the {:.6g} % quantile is not among the figures", 100.0 * precision.probability),
                     "take 0.135 %, 2.5 %, 97.5 % or 99.865 %"};
    }
  }
  for (const auto& channel : model.sensor.channels) known.push_back(channel.name);
  if (auto problem = unknown("channel", precision.name, known)) return problem;
  const auto channel = std::ranges::find(model.sensor.channels, precision.name, &signature::Channel::name);
  if (precision.unit.empty() || precision.unit == channel->unit.name) return std::nullopt;
  return Problem{"",
                 fmt::format("'{}' reads in {}, not in {}", precision.name,
                             channel->unit.name.empty() ? "pure numbers" : channel->unit.name, precision.unit),
                 "state the half-width in that unit, or without one"};
}

double half_width(const Result& result, const Precision& precision) {
  if (precision.of == Precision::Of::accepted) {
    double widest = 0.0;
    for (const auto& set : result.windows) {
      if (!precision.name.empty() && set.machine_class != precision.name) continue;
      const double here = half_width_of(set.accepted);
      if (!(here <= widest)) widest = here;
    }
    return widest;
  }
  const auto channel = std::ranges::find(result.channels, precision.name, &ChannelResult::name);
  if (channel == result.channels.end()) return std::numeric_limits<double>::quiet_NaN();
  const Spread& spread = channel->reading;
  switch (precision.of) {
    case Precision::Of::mean:
      return half_width_of(spread.mean);
    case Precision::Of::sd:
      return half_width_of(spread.sd);
    case Precision::Of::median:
      return half_width_of(spread.median);
    default:
      break;
  }
  for (const auto& entry : spread.quantiles) {
    if (same(entry.probability, precision.probability)) return half_width_of(entry.figure);
  }
  return std::numeric_limits<double>::quiet_NaN();
}

std::uint64_t next_pieces(std::uint64_t pieces, double reached, const Precision& precision) {
  const double ratio = reached / precision.half_width;
  // An interval that does not exist yet needs more pieces, nobody knows how many.
  const double factor = std::isfinite(ratio) ? std::clamp(1.2 * ratio * ratio, 2.0, 16.0) : 16.0;
  const double wanted = factor * static_cast<double>(pieces);
  return std::min(precision.most_pieces, static_cast<std::uint64_t>(wanted));
}

}  // namespace mintspread::study
