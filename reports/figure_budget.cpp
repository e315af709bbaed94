#include <algorithm>
#include <cmath>

#include "reports/budget_words.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr std::size_t drawn_entries = 8;
constexpr double row = text_line + 20.0;
constexpr std::size_t longest = 52;

std::string per_level(const InputResult& input) { return input.level.empty() ? "" : ", per " + input.level; }

struct Segment {
  double middle, width;
  std::string name;
};

// Names under the segments of a bar, the widest first; one that would lie on another's name or that of a sliver is left
// to the table.
void name_segments(Drawing& drawing, std::vector<Segment> segments, double y) {
  std::stable_sort(segments.begin(), segments.end(),
                   [](const Segment& a, const Segment& b) { return a.width > b.width; });
  std::vector<std::pair<double, double>> taken;
  for (const auto& one : segments) {
    const double half = 0.5 * letter_width * static_cast<double>(one.name.size()), gap = 6.0;
    const double left = one.middle - half - gap, right = one.middle + half + gap;
    const bool free = std::none_of(taken.begin(), taken.end(),
                                   [&](const auto& other) { return left < other.second && other.first < right; });
    if (one.width < 14.0 || left < 0.0 || right > drawing_width || !free) continue;
    drawing.text(one.middle, y, Anchor::middle, one.name, "soft");
    taken.emplace_back(left, right);
  }
}

}  // namespace

std::string draw_budget(const Result& result, const ChannelResult& channel, const std::string& id) {
  if (!channel.budget || channel.budget->entries.empty()) return {};
  const auto& entries = channel.budget->entries;
  const std::size_t count_drawn = std::min(told_entries(result, channel), drawn_entries);
  double longest_bar = 0.0;
  for (std::size_t i = 0; i < count_drawn; ++i) {
    const Figure& figure = entries[i].contribution;
    longest_bar = std::max({longest_bar, figure.value, figure.band ? figure.band->upper : 0.0});
  }
  const Scale x{0.0, 1.08 * longest_bar, drawing_left, drawing_right};
  const double bottom = 6.0 + row * static_cast<double>(count_drawn);
  const std::string description = "Standard deviation each quantity causes in " + channel.name +
                                  ", the largest first: " + result.inputs.at(entries.front().input).path + " with " +
                                  significant(entries.front().contribution.value, 3) + " " + channel.unit +
                                  "; the table below has their numbers.";
  Drawing drawing(id, bottom + text_line + 4, "What spreads " + channel.name, description);
  double y = 6.0;
  for (std::size_t i = 0; i < count_drawn; ++i) {
    const InputResult& input = result.inputs.at(entries[i].input);
    drawing.text(drawing_left, y + text_line - 8, Anchor::start, shortened(input.path + per_level(input), longest));
    const double end = x(entries[i].contribution.value),
                 tip = std::max(end, entries[i].contribution.band ? x(entries[i].contribution.band->upper) : end);
    drawing.rectangle(drawing_left, y + text_line, std::max(1.0, end - drawing_left), 13, "part");
    if (const auto& band = entries[i].contribution.band; band && band->upper > band->lower) {
      const double left = x.kept(band->lower);
      drawing.rectangle(left, y + text_line + 4, std::max(2.0, x.kept(band->upper) - left), 5, "unknown over");
    }
    // The sign of the sensitivity: an arrow to the right raises the reading.
    const double head = entries[i].sensitivity.value > 0.0 ? tip + 9 : tip + 4,
                 tail = entries[i].sensitivity.value > 0.0 ? tip + 4 : tip + 9;
    drawing.polyline({{tail, y + text_line + 2}, {head, y + text_line + 6.5}, {tail, y + text_line + 11}}, "sign");
    y += row;
  }
  const Ticks ticks = round_ticks(0.0, x.to, 5);
  drawing.ruler(x, ticks, bottom);
  return drawing.take();
}

std::string draw_window_use(const Result& result, const Subject& subject, const std::string& id) {
  struct Drawn {
    const WindowSetResult* set;
    const WindowUse* use;
  };
  std::vector<Drawn> drawn;
  double longest_bar = 0.0;
  std::vector<std::string> level_names;
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    const auto& use = set.criteria[window.criterion].use;
    if (!use || !(use->half_width > 0.0)) continue;
    drawn.push_back({&set, &*use});
    longest_bar = std::max(longest_bar, use->half_width - std::min(0.0, use->left.value));
    for (const auto& level : use->levels) {
      if (std::find(level_names.begin(), level_names.end(), level.name) == level_names.end())
        level_names.push_back(level.name);
    }
  }
  if (drawn.empty()) return {};
  constexpr double tall = 2.0 * text_line + 23.0;
  const Scale x{0.0, 1.02 * longest_bar, drawing_left, drawing_right};
  const double bottom = 6.0 + tall * static_cast<double>(drawn.size());
  const std::string description = "Half of each window of " + subject.name +
                                  " and the parts that use it, one bar a class; the table below has their numbers.";
  Drawing drawing(id, bottom + text_line + 4, "How the windows of " + subject.name + " are used", description);
  double y = 6.0;
  for (const auto& one : drawn) {
    const WindowUse& use = *one.use;
    drawing.text(drawing_left, y + text_line - 8, Anchor::start,
                 shortened(one.set->machine_class + ": " + significant(use.left.value, 3) + " left of " +
                               significant(use.half_width, 3),
                           longest));
    const double top = y + text_line;
    double at = 0.0;
    std::vector<Segment> segments;
    const auto segment = [&](double part, const std::string& style, const std::string& name) {
      if (!(part > 0.0)) return;
      const double left = x(at), right = x(at + part);
      drawing.rectangle(left, top, right - left, 16, style);
      segments.push_back({0.5 * (left + right), right - left, name});
      at += part;
    };
    segment(use.off_centre.value, "out-fill", "off centre");
    for (std::size_t i = 0; i < level_names.size(); ++i) {
      for (const auto& level : use.levels) {
        if (level.name == level_names[i])
          segment(level.part.value, "level level" + std::to_string(i % 5 + 1), level.name);
      }
    }
    segment(use.not_known, "unknown", "not known");
    name_segments(drawing, std::move(segments), top + 23 + text_line - 8);  // clear of the bracket
    drawing.bracket(x(0.0), x(use.half_width), top + 20, true, false, use.left.value < 0.0 ? "window out" : "window");
    y += tall;
  }
  drawing.ruler(x, round_ticks(0.0, x.to, 5), bottom);
  return drawing.take();
}

std::string draw_shares(const ChannelResult& channel, const std::string& id) {
  const auto shares = told_shares(channel);
  if (shares.empty()) return {};
  double least = 0.0, most = 100.0;
  for (const auto* share : shares) {
    const Figure alone = in_percent(share->first_order), total = in_percent(share->total);
    least = std::min(least, alone.value);
    most = std::max(most, total.interval ? total.interval->upper : total.value);
  }
  const Scale x{std::max(-50.0, least), std::min(150.0, most), drawing_left + 4, drawing_right - 4};
  const double bottom = 6.0 + row * static_cast<double>(shares.size());
  const std::string description = "Shares of the variance of " + channel.name +
                                  ", alone and with interactions, by step, tolerance and group; the table below has "
                                  "their numbers.";
  Drawing drawing(id, bottom + text_line + 4, "Shares of the variance of " + channel.name, description);
  drawing.line(x(0.0), 2, x(0.0), bottom, "hair");
  double y = 6.0;
  for (const auto* share : shares) {
    const Figure alone = in_percent(share->first_order), total = in_percent(share->total);
    drawing.text(drawing_left, y + text_line - 8, Anchor::start,
                 shortened(kind_word(share->kind) + " " + share->name, longest));
    const double middle = y + text_line + 6;
    if (total.interval)
      drawing.line(x.kept(total.interval->lower), middle, x.kept(total.interval->upper), middle, "in whisker");
    if (std::isfinite(total.value)) drawing.circle(x.kept(total.value), middle, 5, "in dot");
    if (std::isfinite(alone.value)) drawing.diamond(x.kept(alone.value), middle, 6, "nominal");
    y += row;
  }
  drawing.ruler(x, round_ticks(x.from, x.to, 5), bottom);
  return drawing.take();
}

}  // namespace mintspread::reports
