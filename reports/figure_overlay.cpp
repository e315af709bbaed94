#include "reports/figure_overlay.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "reports/curve.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

// The window that a class sets on this channel, in any of the results.
struct SetWindow {
  std::string machine_class;
  const CriterionResult* criterion;
  std::string letters;  ///< of the coins it is set for: "A, C"
};

std::vector<SetWindow> windows_on(std::span<const Compared> coins) {
  std::vector<SetWindow> list;
  for (const auto& coin : coins) {
    const auto position = static_cast<std::size_t>(coin.channel - coin.result->channels.data());
    for (const auto& set : coin.result->windows) {
      for (const auto& criterion : set.criteria) {
        if (criterion.channel != position) continue;
        const auto known = std::find_if(list.begin(), list.end(), [&](const auto& other) {
          return other.machine_class == set.machine_class && other.criterion->lower == criterion.lower &&
                 other.criterion->upper == criterion.upper;
        });
        if (known == list.end())
          list.push_back({set.machine_class, &criterion, coin.letter});
        else
          known->letters += ", " + coin.letter;
      }
    }
  }
  return list;
}

// Whose window it is stands with it where a class has different ones for the coins.
std::string label_of(const SetWindow& window, const std::vector<SetWindow>& windows) {
  const auto same_class = std::count_if(windows.begin(), windows.end(),
                                        [&](const auto& other) { return other.machine_class == window.machine_class; });
  return window.machine_class + (same_class > 1 ? " for " + window.letters : "") + ": " +
         window_words(*window.criterion);
}

Range range_of(std::span<const Compared> coins, const std::vector<SetWindow>& windows) {
  double lower = std::numeric_limits<double>::infinity(), upper = -lower;
  for (const auto& coin : coins) {
    const Spread& s = coin.channel->reading;
    lower = std::min(lower, s.quantiles.empty() ? s.smallest : s.quantiles.front().figure.value);
    upper = std::max(upper, s.quantiles.empty() ? s.largest : s.quantiles.back().figure.value);
  }
  if (!(upper > lower)) {
    const double half = std::max(std::abs(lower) * 0.01, 1e-9);
    lower -= half;
    upper += half;
  }
  const double span = upper - lower;
  const Range near{lower - 0.5 * span, upper + 0.5 * span};
  Range range{lower - 0.06 * span, upper + 0.06 * span};
  for (const auto& window : windows) {
    for (const double limit : {window.criterion->lower, window.criterion->upper}) {
      if (!(limit > near.lower && limit < near.upper)) continue;
      range.lower = std::min(range.lower, limit - 0.03 * span);
      range.upper = std::max(range.upper, limit + 0.03 * span);
    }
  }
  return range;
}

std::string description(std::span<const Compared> coins) {
  std::string text = "Distributions of " + coins.front().channel->name + ".";
  for (const auto& coin : coins) {
    text += " " + coin.letter + ", " + coin.result->coin + ": mean " + told(coin.channel->reading.mean).value +
            ", standard deviation " + told(coin.channel->reading.sd).value + ".";
  }
  return text;
}

// Each curve to one height: beside a coin that hardly spreads the others would be flat.
void curves(Drawing& drawing, std::span<const Compared> coins, const Range& range, const Scale& x) {
  std::vector<std::pair<double, double>> letters;
  for (const auto& coin : coins) {
    const auto steps = steps_of(coin.channel->reading.histogram, coin.channel->reading.pieces, range);
    if (!(peak(steps) > 0.0)) continue;
    const Scale y{0.0, peak(steps), curve_bottom, curve_top + text_line + 8.0};
    drawing.polyline(outline(steps, x, y), coin.style);
    const auto top = std::max_element(steps.begin(), steps.end(),
                                      [](const Step& a, const Step& b) { return a.density < b.density; });
    // Letters of curves whose peaks fall together stand side by side, each at the nearest free place.
    const double over = x(0.5 * (top->left + top->right)), height = y(top->density) - 5.0;
    const auto taken = [&](double at) {
      return at < drawing_left || at > drawing_right ||
             std::any_of(letters.begin(), letters.end(), [&](const auto& other) {
               return std::abs(other.first - at) < 18 && std::abs(other.second - height) < text_line;
             });
    };
    double at = std::clamp(over, drawing_left, drawing_right);
    for (double off = 3.0; taken(at) && off < drawing_width; off += 3.0)
      at = taken(over + off) ? over - off : over + off;
    letters.emplace_back(at, height);
    drawing.text(at, height, Anchor::middle, coin.letter);
  }
}

}  // namespace

std::string draw_overlay(std::span<const Compared> coins, const std::string& id) {
  std::vector<Compared> drawn;
  std::copy_if(coins.begin(), coins.end(), std::back_inserter(drawn),
               [](const auto& coin) { return coin.channel->reading.pieces > 0; });
  if (drawn.empty()) return {};
  const auto windows = windows_on(drawn);
  const Range range = range_of(drawn, windows);
  const Scale x{range.lower, range.upper, drawing_left, drawing_right};
  constexpr double row = text_line + 18.0;
  const double first = curve_bottom + text_line + 10.0;
  const auto& channel = *drawn.front().channel;
  Drawing drawing(id, first + row * static_cast<double>(drawn.size() + windows.size()),
                  channel.name + " of " + std::to_string(drawn.size()) + " coins", description(drawn));
  curves(drawing, drawn, range, x);
  drawing.ruler(x, round_ticks(range.lower, range.upper, 6), curve_bottom);
  if (!channel.unit.empty()) drawing.text(drawing_width, curve_top + 10, Anchor::end, typeset(channel.unit), "soft");

  double y = first;
  for (std::size_t i = 0; i < drawn.size(); ++i) {
    const Spread& s = drawn[i].channel->reading;
    drawing.text(drawing_left, y + text_line - 8, Anchor::start, shortened(drawn[i].letter + " " + drawn[i].label, 52));
    const double middle = y + text_line + 4;
    const auto& q = s.quantiles;
    if (q.size() >= 2)
      drawing.line(x.kept(q.front().figure.value), middle, x.kept(q.back().figure.value), middle, drawn[i].style);
    if (q.size() >= 4) {
      drawing.line(x.kept(q[1].figure.value), middle, x.kept(q[q.size() - 2].figure.value), middle,
                   drawn[i].style + " thick");
    }
    drawing.line(x.kept(s.median.value), middle - 7, x.kept(s.median.value), middle + 7, "median");
    y += row;
  }
  for (const auto& window : windows) {
    drawing.text(drawing_left, y + text_line - 8, Anchor::start, shortened(label_of(window, windows), 52));
    drawing.bracket(x.kept(window.criterion->lower), x.kept(window.criterion->upper), y + text_line + 8,
                    !(window.criterion->lower > range.lower), !(window.criterion->upper < range.upper), "window");
    y += row;
  }
  return drawing.take();
}

}  // namespace mintspread::reports
