#include "reports/figure_pair.hpp"

#include <algorithm>
#include <cmath>
#include <optional>
#include <vector>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr double plane_left = 96.0, plane_right = 624.0, plane_top = 40.0, plane_bottom = 400.0;
constexpr double reach = 6.0;  // standard deviations beyond which a piece is drawn at the edge

const CriterionResult* window_on(const Result& result, const ChannelPair& pair, std::size_t channel) {
  for (const auto& criterion : result.windows[pair.set].criteria) {
    if (criterion.channel == channel) return &criterion;
  }
  return nullptr;
}

struct Side {
  const ChannelResult* channel;
  const std::vector<double>* readings;
  const CriterionResult* window;  // null: none
  double lower, upper;            // drawn range
};

Side side_of(const Result& result, const ChannelPair& pair, std::size_t channel) {
  Side side{&result.channels[channel], &result.joint->sample.readings[channel], window_on(result, pair, channel), 0.0,
            0.0};
  const Spread& spread = side.channel->reading;
  const double mean = spread.mean.value, sd = spread.sd.value;
  side.lower = mean - 3.0 * sd;
  side.upper = mean + 3.0 * sd;
  const auto include = [&](double value) {
    if (!(std::abs(value - mean) <= reach * sd)) return;
    side.lower = std::min(side.lower, value);
    side.upper = std::max(side.upper, value);
  };
  for (const double reading : *side.readings) include(reading);
  if (side.window != nullptr) include(side.window->lower), include(side.window->upper);
  const double margin =
      side.upper > side.lower ? 0.06 * (side.upper - side.lower) : std::max(std::abs(mean) * 0.01, 1e-9);
  side.lower -= margin;
  side.upper += margin;
  return side;
}

std::string axis_name(const ChannelResult& channel) {
  return channel.name + (channel.unit.empty() ? "" : " / " + typeset(channel.unit));
}

Points points_of(const Side& across, const Side& up, const Scale& x, const Scale& y,
                 const std::vector<std::size_t>& positions) {
  Points points;
  for (const std::size_t i : positions) {
    const double a = (*across.readings)[i], b = (*up.readings)[i];
    if (std::isfinite(a) && std::isfinite(b)) points.emplace_back(x.kept(a), y.kept(b));
  }
  return points;
}

// The windows of the class on the two channels; a side without a limit reaches the edge of the plane and has no line.
void box(Drawing& drawing, const Side& across, const Side& up, const Scale& x, const Scale& y) {
  const auto limits = [](const Side& side, const Scale& scale) {
    const double lower = side.window ? side.window->lower : side.lower,
                 upper = side.window ? side.window->upper : side.upper;
    return std::pair{scale.kept(lower), scale.kept(upper)};
  };
  const auto [left, right] = limits(across, x);
  const auto [bottom, top] = limits(up, y);
  const auto drawn = [](const Side& side, double limit) { return limit > side.lower && limit < side.upper; };
  if (across.window && drawn(across, across.window->lower)) drawing.line(left, bottom, left, top, "window");
  if (across.window && drawn(across, across.window->upper)) drawing.line(right, bottom, right, top, "window");
  if (up.window && drawn(up, up.window->lower)) drawing.line(left, bottom, right, bottom, "window");
  if (up.window && drawn(up, up.window->upper)) drawing.line(left, top, right, top, "window");
}

// The part of a relation's line inside the plane.
Points inside(const RelationLine& line, bool turned, const Side& across, const Side& up, const Scale& x,
              const Scale& y) {
  Points points;
  for (std::size_t i = 0; i < line.x.size(); ++i) {
    const double a = turned ? line.y[i] : line.x[i], b = turned ? line.x[i] : line.y[i];
    if (a < across.lower || a > across.upper || b < up.lower || b > up.upper) continue;
    points.emplace_back(x(a), y(b));
  }
  std::sort(points.begin(), points.end());
  return points;
}

std::optional<Figure> correlation_of(const Result& result, const ChannelPair& pair) {
  for (const auto& one : result.joint->correlations) {
    if (std::minmax(one.first, one.second) == std::minmax(pair.across, pair.up)) return one.figure;
  }
  return {};
}

std::string description(const Result& result, const ChannelPair& pair) {
  const auto& set = result.windows[pair.set];
  const JudgedSample sample = judged(result, pair);
  std::string text =
      "Readings of " + result.channels[pair.across].name + " across and " + result.channels[pair.up].name + " up.";
  if (const auto correlation = correlation_of(result, pair)) text += " Correlation " + told(*correlation).value + ".";
  text += " " + std::to_string(sample.accepted.size()) + " pieces that " + set.machine_class + " accepts, " +
          std::to_string(sample.rejected_here.size()) + " that it rejects by what is drawn here, " +
          std::to_string(sample.rejected_beside.size()) + " that it rejects by other criteria.";
  for (std::size_t c = 0; c < set.criteria.size(); ++c) {
    if (belongs(result, pair, c)) text += " " + set.criteria[c].name + ": " + window_words(set.criteria[c]) + ".";
  }
  return text;
}

}  // namespace

std::string pair_caption(const Result& result, const ChannelPair& pair) {
  const auto& set = result.windows[pair.set];
  const JudgedSample sample = judged(result, pair);
  std::string text = "Dots: the " + count(sample.accepted.size(), "\u202f") + " of the first " +
                     count(result.joint->sample.fair, "\u202f") + " pieces that " + set.machine_class + " accepts.";
  if (!sample.rejected_here.empty()) {
    text += " Crosses: " + std::to_string(sample.rejected_here.size()) +
            " pieces it rejects by what is drawn here; rejects are looked for beyond the first pieces.";
  }
  if (!sample.rejected_beside.empty()) {
    text += " Diamonds: " + std::to_string(sample.rejected_beside.size()) + " it rejects by other criteria only.";
  }
  const auto has = [&](const auto& of) {
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      if (belongs(result, pair, c) && of(set.criteria[c])) return true;
    }
    return false;
  };
  if (has([](const auto& criterion) { return criterion.channel.has_value(); })) text += " Solid lines: its windows.";
  for (std::size_t c = 0; c < set.criteria.size(); ++c) {
    if (belongs(result, pair, c) && !set.criteria[c].channel)
      text += " Dashed: " + set.criteria[c].name + ", " + window_words(set.criteria[c]) + ".";
  }
  return text;
}

std::string draw_pair(const Result& result, const ChannelPair& pair, const std::string& id) {
  const Side across = side_of(result, pair, pair.across), up = side_of(result, pair, pair.up);
  const Scale x{across.lower, across.upper, plane_left, plane_right}, y{up.lower, up.upper, plane_bottom, plane_top};
  Drawing drawing(id, plane_bottom + 2 * text_line + 8, across.channel->name + " and " + up.channel->name + " together",
                  description(result, pair));
  const Ticks right = round_ticks(across.lower, across.upper, 5), above = round_ticks(up.lower, up.upper, 6);
  for (const double value : above.values) {
    drawing.line(plane_left, y(value), plane_right, y(value), "hair");
    drawing.text(plane_left - 6, y(value) + 6, Anchor::end, fixed(value, above.places), "soft");
  }
  drawing.ruler(x, right, plane_bottom);
  drawing.text(0, 18, Anchor::start, axis_name(*up.channel), "soft");
  drawing.text(drawing_width, plane_bottom + 2 * text_line, Anchor::end, axis_name(*across.channel), "soft");

  const JudgedSample sample = judged(result, pair);
  drawing.dots(points_of(across, up, x, y, sample.accepted), "dots");
  box(drawing, across, up, x, y);
  for (const auto& line : result.joint->lines) {
    if (line.set != pair.set || std::minmax(line.across, line.up) != std::minmax(pair.across, pair.up)) continue;
    drawing.polyline(inside(line, line.across != pair.across, across, up, x, y), "relation");
  }
  drawing.diamonds(points_of(across, up, x, y, sample.rejected_beside), "rejected beside");
  drawing.crosses(points_of(across, up, x, y, sample.rejected_here), "rejected");
  const double at_nominal_x = across.channel->nominal, at_nominal_y = up.channel->nominal;
  if (std::isfinite(at_nominal_x) && std::isfinite(at_nominal_y))
    drawing.circle(x.kept(at_nominal_x), y.kept(at_nominal_y), 5, "nominal");
  drawing.text(drawing_width, 18, Anchor::end, result.windows[pair.set].machine_class + "; ring: nominal", "soft");
  return drawing.take();
}

}  // namespace mintspread::reports
