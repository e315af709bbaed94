#include "specs/heat.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

#include "engine/base/constants.hpp"
#include "specs/constant.hpp"
#include "specs/quantity.hpp"

namespace mintspread::specs {

namespace {

const QuantityRule curve_temperature{.name = "at",
                                     .dimensions = {dimension::temperature},
                                     .smallest = celsius_zero,
                                     .largest = celsius_zero + 1500,
                                     .why = "an anneal lies between 0 and 1500 degC"};
const QuantityRule half_time{.name = "in",
                             .dimensions = {dimension::time},
                             .smallest = 0,
                             .smallest_excluded = true,
                             .why = "softening takes time"};
constexpr double least_activation = 50e3, largest_activation = 1000e3;  // J/mol

std::optional<double> heat_value(const Fields& f, const char* key, const QuantityRule& rule, Context& context) {
  const Node* node = f[key];
  const auto read = node ? read_constant(*node, rule, f.path(key), context) : std::nullopt;
  return read ? std::optional(read->value) : std::nullopt;
}

}  // namespace

void read_profile(const Node& node, const Fields& f, double hottest, double at_heat, Context& context,
                  route::Anneal& anneal) {
  struct Point {
    double time, temperature;
    At at;
  };
  const QuantityRule time{.name = "at", .dimensions = {dimension::time}, .smallest = 0, .why = "a profile begins at 0"};
  const QuantityRule temperature{.name = "temperature",
                                 .dimensions = {dimension::temperature},
                                 .smallest = celsius_zero - 50,
                                 .largest = celsius_zero + 1500,
                                 .why = "a furnace lies between -50 and 1500 degC"};
  std::vector<Point> points;
  const std::size_t before = context.findings.errors();
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& item = node.items[i];
    if (item.refused || item.kind != Node::Kind::mapping) return;
    const Fields own(item, below(f.path("profile"), std::to_string(i + 1)));
    const Node *when = own["at"], *how_hot = own["temperature"];
    if (!when || !how_hot) return;
    const auto t = read_constant(*when, time, own.path("at"), context);
    const auto hot = read_constant(*how_hot, temperature, own.path("temperature"), context);
    if (!t || !hot) return;
    if (!points.empty() && t->value <= points.back().time)
      context.findings.error(when->at, own.path("at"),
                             fmt::format("the profile goes back in time, from {} to {}",
                                         specs::told(points.back().time, t->unit), specs::told(t->value, t->unit)),
                             "State its points in the order of time.");
    points.push_back({t->value, hot->value, when->at});
  }
  if (hottest <= 0 || context.findings.errors() > before || points.size() < 2) return;
  double coldest = points[0].temperature, most = coldest, plateau = 0;
  for (const Point& point : points)
    coldest = std::min(coldest, point.temperature), most = std::max(most, point.temperature);
  for (std::size_t i = 1; i < points.size(); ++i)
    if (points[i - 1].temperature == most && points[i].temperature == most)
      plateau += points[i].time - points[i - 1].time;
  if (std::abs(most - hottest) > 0.5 || std::abs(plateau - at_heat) > 0.01 * std::max(at_heat, 60.0))
    return context.findings.error(
        node.at, f.path("profile"),
        fmt::format(
            "the profile is hottest at {:.0f} degC for {:.1f} min, but the anneal states {:.0f} degC for {:.1f} min",
            most - celsius_zero, plateau / 60, hottest - celsius_zero, at_heat / 60),
        "State the same: the tolerances of `temperature` and `time` stretch the profile.");
  if (!(coldest < most))
    return context.findings.error(node.at, f.path("profile"), "the profile neither heats nor cools", "Leave it out.");
  anneal.coldest = coldest;
  for (std::size_t i = 1; i < points.size(); ++i) {
    const Point &from = points[i - 1], &to = points[i];
    if (from.temperature == most && to.temperature == most) continue;
    anneal.ramps.push_back({to.time - from.time, (from.temperature - coldest) / (most - coldest),
                            (to.temperature - coldest) / (most - coldest)});
  }
}

void read_softening(const Fields& f, Context& context, route::PropertyChange& change) {
  const Node *states = f["half softened"], *exponent_node = f["exponent"];
  const double exponent = exponent_node ? read_number(*exponent_node, f.path("exponent"), context).value_or(1) : 1;
  if (exponent_node && !states)
    return context.findings.error(exponent_node->at, f.path("exponent"), "an exponent of no rate law says nothing",
                                  "Add `half softened`, or leave it out.");
  if (exponent_node && !(exponent > 0 && exponent <= 10))
    return context.findings.error(exponent_node->at, f.path("exponent"),
                                  "the exponent of a rate law lies between 0 and 10", "1 is usual for recovery.");
  if (states == nullptr) return;
  if (states->items.size() != 2)
    return context.findings.error(states->at, f.path("half softened"),
                                  fmt::format("two states make a rate law, but {} stand here", states->items.size()),
                                  "State two: one hotter and sooner than the other.");
  std::array<double, 2> hot{}, time{};
  for (std::size_t i = 0; i < 2; ++i) {
    const Node& item = states->items[i];
    if (item.refused || item.kind != Node::Kind::mapping) return;
    const Fields own(item, below(f.path("half softened"), std::to_string(i + 1)));
    const auto at = heat_value(own, "at", curve_temperature, context), in = heat_value(own, "in", half_time, context);
    if (!at || !in) return;
    hot[i] = *at, time[i] = *in;
  }
  if (!((hot[0] - hot[1]) * (time[0] - time[1]) < 0))
    return context.findings.error(states->at, f.path("half softened"), "the hotter state must be reached sooner",
                                  "Check temperatures and times.");
  const auto law = materials::softening(hot[0], time[0], hot[1], time[1], exponent);
  if (law.rate.activation < least_activation || law.rate.activation > largest_activation)
    return context.findings.error(
        states->at, f.path("half softened"),
        fmt::format("these two states make an activation energy of {:.3g} kJ/mol, which no metal softens by",
                    law.rate.activation * 1e-3),
        "Some 80 to 400 kJ/mol are to be expected.");
  change.softening = law;
}

void read_curve(const Node& node, const Fields& f, Context& context, route::PropertyChange& change) {
  if (change.softening)
    return context.findings.error(node.at, f.path("curve"), "both a rate law and a curve tell the same",
                                  "Keep one of them.");
  const auto factor = [&](const Fields& own, const char* key) {
    const Node* at = own[key];
    const double value = at ? read_number(*at, own.path(key), context).value_or(1) : 1;
    if (!(value > 0 && value <= 1000))
      context.findings.error(at->at, own.path(key), "a factor on a property lies between 0 and 1000", "");
    return value;
  };
  for (std::size_t i = 0; i < node.items.size(); ++i) {
    const Node& item = node.items[i];
    if (item.refused || item.kind != Node::Kind::mapping) return;
    const Fields own(item, below(f.path("curve"), std::to_string(i + 1)));
    const auto at = heat_value(own, "at", curve_temperature, context);
    if (!at) return;
    if (!change.curve.empty() && *at <= change.curve.back().temperature)
      return context.findings.error(item.at, own.path("at"), "the curve goes back in temperature",
                                    "State its points from cold to hot.");
    change.curve.push_back({*at, factor(own, "conductivity"), factor(own, "permeability")});
  }
  if (change.curve.size() < 2) context.findings.error(node.at, f.path("curve"), "a curve has two points at least", "");
}

}  // namespace mintspread::specs
