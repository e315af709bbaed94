#include <algorithm>
#include <cmath>
#include <vector>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

struct Loss {
  const WindowSetResult* set;
  const CriterionResult* criterion;  // null: the class as a whole
  Figure rejected;
  bool marked;
};

std::vector<Loss> losses(const Result& result) {
  std::vector<Loss> list;
  for (const auto& set : result.windows) {
    for (const auto& criterion : set.criteria) {
      list.push_back({&set, &criterion, criterion.rejected, !marks_of(result, criterion).empty()});
    }
  }
  std::stable_sort(list.begin(), list.end(),
                   [](const Loss& a, const Loss& b) { return a.rejected.value > b.rejected.value; });
  return list;
}

std::string decade(int exponent) {
  if (exponent >= -3) return significant(std::pow(10.0, exponent + 2)) + " %";
  return significant(std::pow(10.0, exponent + 6)) + " ppm";
}

}  // namespace

std::string draw_losses(const Result& result, const std::string& id) {
  const auto list = losses(result);
  if (list.empty()) return {};
  double least = 1e-4;
  for (const auto& loss : list) {
    const double seen = loss.rejected.value > 0.0 ? loss.rejected.value
                        : loss.rejected.interval  ? loss.rejected.interval->upper
                                                  : 1e-4;
    if (seen > 0.0) least = std::min(least, seen);
  }
  const int lowest = std::max(-9, static_cast<int>(std::floor(std::log10(least))) - 1);
  const Scale x{std::pow(10.0, lowest), 1.0, drawing_left + 6, drawing_right, true};
  constexpr double row = text_line + 18.0;
  const double bottom = 8.0 + row * static_cast<double>(list.size());

  std::string description = "Fraction rejected by each criterion alone, the most first.";
  for (const auto& loss : list) {
    description += " " + loss.criterion->name + " of " + loss.set->machine_class + ": " +
                   percent(told_percent(loss.rejected)) + ".";
  }
  Drawing drawing(id, bottom + text_line + 4, "What each criterion rejects", description);
  for (int exponent = lowest; exponent <= 0; ++exponent) {
    const double at = x(std::pow(10.0, exponent));
    drawing.line(at, 2, at, bottom, "hair");
    if ((exponent - lowest) % 2 == (lowest % 2 != 0 ? 1 : 0) || -lowest < 5) {
      const Anchor anchor = exponent == 0 ? Anchor::end : exponent == lowest ? Anchor::start : Anchor::middle;
      drawing.text(anchor == Anchor::start ? 0
                   : anchor == Anchor::end ? drawing_width
                                           : at,
                   bottom + text_line - 3, anchor, decade(exponent), "soft");
    }
  }
  double y = 8.0;
  for (const auto& loss : list) {
    const std::string style = loss.marked ? "doubt" : loss.rejected.value > 0.0 ? "out" : "in";
    drawing.text(drawing_left, y + text_line - 8, Anchor::start,
                 loss.criterion->name + (loss.marked ? " (marked)" : "") + ", " + loss.set->machine_class + ": " +
                     percent(told_percent(loss.rejected)));
    const double middle = y + text_line + 4;
    if (loss.rejected.band) {
      const double left = x.kept(loss.rejected.band->lower);
      drawing.rectangle(left, middle - 5, std::max(2.0, x.kept(loss.rejected.band->upper) - left), 10, "unknown");
    }
    if (loss.rejected.interval) {
      drawing.line(x.kept(loss.rejected.interval->lower), middle, x.kept(loss.rejected.interval->upper), middle,
                   style + " whisker");
    }
    if (loss.rejected.value > 0.0) {
      drawing.circle(x.kept(loss.rejected.value), middle, 5, style + " dot");
    } else if (loss.rejected.interval && loss.rejected.interval->upper > 0.0) {
      const double end = x.kept(loss.rejected.interval->upper);
      drawing.line(end, middle - 6, end, middle + 6, style + " whisker");
    }
    y += row;
  }
  drawing.line(x.at_from, bottom, x.at_to, bottom, "axis");
  return drawing.take();
}

}  // namespace mintspread::reports
