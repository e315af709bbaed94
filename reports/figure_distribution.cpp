#include <algorithm>
#include <cmath>

#include "reports/curve.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

// Where the pieces are, widened to the windows and bands that lie near them.
Range drawn_range(const Result& result, const Subject& subject) {
  const Spread& s = *subject.reading;
  double lower = s.quantiles.empty() ? s.smallest : s.quantiles.front().figure.value;
  double upper = s.quantiles.empty() ? s.largest : s.quantiles.back().figure.value;
  if (!(upper > lower)) {
    const double half = std::max(std::abs(lower) * 0.01, 1e-9);
    lower -= half;
    upper += half;
  }
  const double span = upper - lower;
  const Range near{lower - span, upper + span};
  lower -= 0.15 * span;
  upper += 0.15 * span;
  const auto include = [&](double value) {
    if (!(value > near.lower && value < near.upper)) return;
    lower = std::min(lower, value - 0.05 * span);
    upper = std::max(upper, value + 0.05 * span);
  };
  include(subject.nominal);
  if (s.mean.band) include(s.mean.band->lower), include(s.mean.band->upper);
  for (const auto& window : subject.windows) {
    const auto& criterion = result.windows[window.set].criteria[window.criterion];
    include(criterion.lower);
    include(criterion.upper);
  }
  return {lower, upper};
}

std::string description(const Result& result, const Subject& subject) {
  const Spread& s = *subject.reading;
  const std::string unit = subject.unit.empty() ? "" : " " + subject.unit;
  std::string text = "Distribution of " + subject.name + ": mean " + told(s.mean).value + unit +
                     ", standard deviation " + told(s.sd).value + unit + ".";
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    const auto& criterion = set.criteria[window.criterion];
    text += " Window of " + set.machine_class + " " + window_words(criterion) + ": " +
            percent(told_percent(criterion.rejected_low)) + " too low, " +
            percent(told_percent(criterion.rejected_high)) + " too high.";
  }
  return text;
}

// The window that rejects most: what lies outside it is hatched.
const CriterionResult* tightest(const Result& result, const Subject& subject) {
  const CriterionResult* most = nullptr;
  for (const auto& window : subject.windows) {
    const auto& criterion = result.windows[window.set].criteria[window.criterion];
    if (most == nullptr || criterion.accepted.value < most->accepted.value) most = &criterion;
  }
  return most;
}

// A coin that spreads much less than its reading would tower over it.
bool draws_coin_alone(const Subject& subject) {
  return subject.channel != nullptr && subject.channel->coin.sd.value > 0.6 * subject.reading->sd.value;
}

void curve(Drawing& drawing, const Result& result, const Subject& subject, const Range& range, const Scale& x) {
  const auto steps = steps_of(subject.reading->histogram, subject.reading->pieces, range);
  if (steps.empty()) return;
  std::vector<Step> alone;
  if (draws_coin_alone(subject)) alone = steps_of(subject.channel->coin.histogram, subject.channel->coin.pieces, range);
  const Scale y{0.0, std::max(peak(steps), peak(alone)), curve_bottom, curve_top};
  if (!(y.to > 0.0)) return;
  const CriterionResult* window = tightest(result, subject);
  const double lower = window ? window->lower : range.lower, upper = window ? window->upper : range.upper;
  drawing.polygon(outline(steps, x, y), "in-fill in-line");
  for (const auto& tail : {cut(steps, range.lower, lower), cut(steps, upper, range.upper)}) {
    drawing.polygon(outline(tail, x, y), "out-fill");
  }
  if (!alone.empty()) drawing.polyline(outline(alone, x, y), "alone");
}

void quantile_bar(Drawing& drawing, const Subject& subject, const Scale& x, double y) {
  const Spread& s = *subject.reading;
  const auto& q = s.quantiles;
  if (q.size() >= 2) drawing.line(x.kept(q.front().figure.value), y, x.kept(q.back().figure.value), y, "bar");
  if (q.size() >= 4) drawing.line(x.kept(q[1].figure.value), y, x.kept(q[q.size() - 2].figure.value), y, "bar thick");
  drawing.line(x.kept(s.median.value), y - 8, x.kept(s.median.value), y + 8, "median");
  if (std::isfinite(subject.nominal)) drawing.diamond(x.kept(subject.nominal), y, 7, "nominal");
}

}  // namespace

std::string subject_title(const Subject& subject) {
  return subject.kind.empty() || subject.kind == subject.name ? subject.name : subject.name + ": " + subject.kind;
}

std::string window_words(const CriterionResult& criterion) {
  std::string text = window_text(criterion);
  if (text.compare(0, 3, ">= ") == 0) return "at least " + typeset(text.substr(3));
  if (text.compare(0, 3, "<= ") == 0) return "at most " + typeset(text.substr(3));
  if (const auto dots = text.find(" .. "); dots != std::string::npos) text.replace(dots, 4, " to ");
  return typeset(text);
}

std::string distribution_caption(const Subject& subject) {
  std::string text =
      "Solid line: readings, everything included. Hatched: outside the window that rejects most, drawn heavier among "
      "the brackets.";
  if (draws_coin_alone(subject)) {
    text += " Dashed: the coin alone, conditions at nominal, no noise.";
  }
  return text;
}

std::string draw_distribution(const Result& result, const Subject& subject, const std::string& id) {
  if (subject.reading == nullptr || subject.reading->pieces == 0) return {};
  const Range range = drawn_range(result, subject);
  const Scale x{range.lower, range.upper, drawing_left, drawing_right};
  constexpr double row = text_line + 20.0;
  const bool band = subject.reading->mean.band.has_value();
  const double rows = 1.0 + (band ? 1.0 : 0.0) + static_cast<double>(subject.windows.size());
  const double first = curve_bottom + text_line + 10.0;
  Drawing drawing(id, first + rows * row, "Distribution of " + subject_title(subject), description(result, subject));

  curve(drawing, result, subject, range, x);
  drawing.ruler(x, round_ticks(range.lower, range.upper, 6), curve_bottom);
  if (!subject.unit.empty()) drawing.text(drawing_width, curve_top + 10, Anchor::end, typeset(subject.unit), "soft");

  double y = first;
  const auto say = [&](const std::string& words) {
    drawing.text(drawing_left, y + text_line - 8, Anchor::start, words);
  };
  const auto& q = subject.reading->quantiles;
  if (q.size() >= 4) {
    say(significant(100 * (q.back().probability - q.front().probability)) + " % of readings, thick " +
        significant(100 * (q[q.size() - 2].probability - q[1].probability)) + " %; diamond: nominal");
  }
  quantile_bar(drawing, subject, x, y + text_line + 7);
  y += row;
  if (band) {
    const auto& of_mean = *subject.reading->mean.band;
    const Told text = told(subject.reading->mean);
    say("not known: mean between " + text.band_lower + " and " + text.band_upper);
    const double left = x.kept(of_mean.lower);
    drawing.rectangle(left, y + text_line + 2, std::max(2.0, x.kept(of_mean.upper) - left), 10, "unknown");
    y += row;
  }
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    const auto& criterion = set.criteria[window.criterion];
    std::string words = set.machine_class + ": " + window_words(criterion), sides;
    if (criterion.rejected_low.value > 0.0) sides += ", " + percent(told_percent(criterion.rejected_low)) + " low";
    if (criterion.rejected_high.value > 0.0) sides += ", " + percent(told_percent(criterion.rejected_high)) + " high";
    // The table below tells the sides again; a long name leaves no room for them.
    if (letter_width * static_cast<double>(words.size() + sides.size()) < drawing_right - drawing_left) words += sides;
    say(words);
    const bool open_left = !(criterion.lower > range.lower), open_right = !(criterion.upper < range.upper);
    drawing.bracket(
        x.kept(criterion.lower), x.kept(criterion.upper), y + text_line + 10, open_left, open_right,
        &criterion == tightest(result, subject) && criterion.accepted.value < 1.0 ? "window out" : "window");
    y += row;
  }
  return drawing.take();
}

}  // namespace mintspread::reports
