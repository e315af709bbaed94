#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "reports/figures.hpp"
#include "reports/measured.hpp"
#include "reports/measured_tables.hpp"
#include "reports/numbers.hpp"
#include "reports/page_content.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace measured;

class FitPage {
 public:
  explicit FitPage(const MeasuredResult& result)
      : r_(result), name_(typeset(result.unit)), unit_(name_.empty() ? "" : " " + name_) {}

  PageContent write() {
    content_.title = fmt::format("{} of {}: shapes fitted to measured values", r_.column, r_.file);
    content_.coin = fmt::format("{} of {}", r_.column, r_.file);
    content_.what = "Shapes of a specification, fitted to measured values by maximum likelihood";
    answer();
    rests_on();
    uncovered();
    if (const ShapeRow* best = this->best()) {
      histogram(*best);
      quantiles(*best);
    }
    shapes();
    groups();
    gauges();
    tails();
    lines();
    content_.record = {{"Table", r_.file}, {"Column", r_.column}, {"Rows", counted(r_.rows)}};
    if (r_.draws > 0)
      content_.record.emplace_back("Simulated samples", fmt::format("{}, seed {}", counted(r_.draws), r_.seed));
    content_.cautions = {"What was measured says nothing of what was not: other plants, later baths, other gauges.",
                         "A fit is no certificate of a process or of its capability."};
    return std::move(content_);
  }

 private:
  const ShapeRow* best() const {
    return !r_.shapes.empty() && r_.shapes.front().obstacle.empty() ? &r_.shapes.front() : nullptr;
  }
  PageFigure& figure(const char* id, const char* heading, const std::string& lead = "") {
    content_.figures.push_back({id, heading, lead, {}, {}});
    return content_.figures.back();
  }
  void answer() {
    Verdict verdict;
    const ShapeRow* best = this->best();
    if (best == nullptr) {
      verdict.sentence = "No shape could be fitted.";
    } else {
      std::vector<std::string> near;
      for (const ShapeRow& shape : r_.shapes)
        if (&shape != best && shape.obstacle.empty() && shape.behind <= 2.0) near.push_back(shape.name);
      verdict.sentence = fmt::format("{} fits best", best->name);
      if (!near.empty())
        verdict.sentence += fmt::format("; {} {} nearly as well", list_of(near), near.size() == 1 ? "does" : "do");
      verdict.sentence += ".";
    }
    const int mean_places = decimal_places(r_.mean_uncertainty);
    const int sd_places = decimal_places(0.25 * (r_.sd_upper - r_.sd_lower));
    verdict.limit = fmt::format(
        "Mean {}{} with a standard uncertainty of {}{}; standard deviation {}{}, 95 % interval {} to {}{}.",
        fixed(r_.mean, mean_places), unit_, significant(r_.mean_uncertainty, 2), unit_, fixed(r_.sd, sd_places), unit_,
        fixed(r_.sd_lower, sd_places), fixed(r_.sd_upper, sd_places), unit_);
    content_.verdicts.push_back(verdict);
    if (best != nullptr) content_.next.push_back("Paste a line of the last section into a specification.");
    if (r_.values < r_.tails.needed)
      content_.next.push_back(
          fmt::format("Measure {} values, not {}, if the data themselves are to vouch for 99.73 % of production.",
                      counted(r_.tails.needed), counted(r_.values)));
    if (r_.step > 0.5 * r_.sd)
      content_.warnings.push_back(
          "The step of the readings is more than half of the standard deviation: such values hardly tell shapes "
          "apart.");
  }

  void rests_on() {
    std::string what = fmt::format("{} values", counted(r_.values));
    if (r_.gaps > 0) what += fmt::format(", {} {}", counted(r_.gaps), r_.gaps == 1 ? "gap" : "gaps");
    if (r_.below_limit > 0) what += fmt::format(", {} below a limit", counted(r_.below_limit));
    if (r_.above_limit > 0) what += fmt::format(", {} above a limit", counted(r_.above_limit));
    content_.rests.push_back(fmt::format("{}; smallest {}, median {}, largest {}{}; skewness {}.", what,
                                         significant(r_.smallest), significant(r_.median), significant(r_.largest),
                                         unit_, significant(r_.skewness, 2)));
    if (r_.step > 0.0)
      content_.rests.push_back(
          fmt::format("Rounded to steps of {}{}{}: each value is taken as the interval it stands for.",
                      significant(r_.step), unit_, r_.step_stated ? ", as stated" : ", as they are written"));
    if (r_.sorted_lower)
      content_.rests.push_back(fmt::format("Pieces outside of {} to {}{} had been sorted out before, as stated.",
                                           significant(*r_.sorted_lower), significant(*r_.sorted_upper), unit_));
    if (r_.gauge && r_.gauge->pieces_a_reading > 1)
      content_.rests.push_back(
          fmt::format("Each reading is the mean of {} pieces: single pieces spread more, and only the part within the "
                      "innermost group tells how much.",
                      r_.gauge->pieces_a_reading));
  }

  void uncovered() {
    content_.uncovered.push_back(
        "What lies beyond the smallest and the largest value is the shape's word, not the data's.");
    if (told_apart(r_))
      content_.uncovered.push_back(
          "Values of one unit of a group are alike and not independent: chances of a larger deviation, intervals of "
          "quantiles and what is said of the tails are then too sure.");
    if (!r_.gauge) content_.uncovered.push_back("The gauge's error is part of the spread: none was stated.");
  }

  void histogram(const ShapeRow& best) {
    if (r_.bars.empty()) return;
    constexpr double top = 14.0, bottom = 210.0;
    double most = 1.0;
    for (const Bar& bar : r_.bars) most = std::max({most, static_cast<double>(bar.count), bar.expected});
    const Scale x{r_.bars.front().lower, r_.bars.back().upper, drawing_left, drawing_right};
    const Scale y{0.0, most, bottom, top + text_line};
    Drawing drawing(
        "data-f", bottom + text_line + 4.0, "Data and fit",
        fmt::format("Histogram of the values from {} to {}{}, and what the {} expects; the table below "
                    "holds its numbers.",
                    significant(r_.bars.front().lower, 5), significant(r_.bars.back().upper, 5), unit_, best.name));
    Points steps{{x(r_.bars.front().lower), bottom}}, expected;
    for (const Bar& bar : r_.bars) {
      const double height = y(static_cast<double>(bar.count));
      steps.push_back({x(bar.lower), height});
      steps.push_back({x(bar.upper), height});
      expected.push_back({x(0.5 * (bar.lower + bar.upper)), y(bar.expected)});
    }
    steps.push_back({x(r_.bars.back().upper), bottom});
    drawing.polygon(steps, "in-fill in-line");
    drawing.polyline(expected, "alone");
    drawing.ruler(x, round_ticks(x.from, x.to, 6), bottom);
    if (!name_.empty()) drawing.text(drawing_width, top + 10.0, Anchor::end, name_, "soft");
    figure("data", "Data and fit")
        .panels.push_back({drawing.take(),
                           fmt::format("Solid line: values. Dashed: what {} expects in each class.", best.name),
                           fit_bars_table(r_)});
  }

  void quantiles(const ShapeRow& best) {
    if (r_.pairs.size() < 2) return;
    constexpr double top = 40.0, bottom = 340.0;
    const double from = std::min(r_.pairs.front().expected, r_.pairs.front().observed);
    const double to = std::max(r_.pairs.back().expected, r_.pairs.back().observed);
    const Scale x{from, to, drawing_left + 70.0, drawing_right}, y{from, to, bottom, top};
    Drawing drawing(
        "quantiles-f", bottom + 2.0 * text_line + 4.0, "Quantiles of data and fit",
        fmt::format("Ordered values against the quantiles of the {}: on the line they agree. The smallest "
                    "value is {}, expected {}; the largest {}, expected {}.",
                    best.name, significant(r_.pairs.front().observed, 5), significant(r_.pairs.front().expected, 5),
                    significant(r_.pairs.back().observed, 5), significant(r_.pairs.back().expected, 5)));
    const Ticks ticks = round_ticks(from, to, 6);
    for (double tick : ticks.values) {
      drawing.line(x.at_from, y(tick), x.at_to, y(tick), "hair");
      drawing.text(x.at_from - 8.0, y(tick) + 5.0, Anchor::end, fixed(tick, ticks.places), "soft");
    }
    Points band, dots;
    for (const QuantilePair& pair : r_.pairs) band.push_back({x(pair.expected), y.kept(pair.chance.lower)});
    for (auto pair = r_.pairs.rbegin(); pair != r_.pairs.rend(); ++pair)
      band.push_back({x(pair->expected), y.kept(pair->chance.upper)});
    drawing.polygon(band, "in-fill");
    drawing.line(x(from), y(from), x(to), y(to), "alone");
    for (const QuantilePair& pair : r_.pairs) dots.push_back({x(pair.expected), y(pair.observed)});
    drawing.dots(dots, "dots");
    drawing.ruler(x, ticks, bottom);
    drawing.text(0.0, 18.0, Anchor::start, "value" + (name_.empty() ? "" : " / " + name_), "soft");
    drawing.text(drawing_width, bottom + 2.0 * text_line, Anchor::end,
                 "quantile of the fit" + (name_.empty() ? "" : " / " + name_), "soft");

    figure("quantiles", "Quantiles of data and fit")
        .panels.push_back({drawing.take(),
                           fmt::format("Values, smallest to largest, over the quantiles of {}: on the dashed line they "
                                       "agree. The band holds 95 % of the values of each rank if they come from "
                                       "that shape.",
                                       best.name),
                           fit_pairs_table(r_)});
  }

  void shapes() {
    if (r_.shapes.empty()) return;
    PageFigure& to = figure("shapes", "Shapes, best first",
                            "AICc is the corrected information criterion of Akaike: shapes less than 2 behind the best "
                            "do as well, those more than 10 behind do not. The chance is that of a larger statistic of "
                            "Anderson and Darling if the shape were right.");
    for (const ShapeRow& shape : r_.shapes)
      if (!shape.obstacle.empty()) to.marks.push_back(fmt::format("{} is not fitted: {}", shape.name, shape.obstacle));
    if (best() == nullptr) return;
    to.panels.push_back({"", "", fit_ranks_table(r_)});
    to.panels.push_back({"", "", fit_reach_table(r_)});
  }

  void groups() {
    if (r_.groups.empty()) return;
    PageFigure& to = figure("groups", "Spread by group");
    const bool negative = std::any_of(r_.groups.begin(), r_.groups.end(),
                                      [](const GroupRow& group) { return group.freedom > 0 && group.variance < 0.0; });
    const bool merged =
        std::any_of(r_.groups.begin(), r_.groups.end(), [](const GroupRow& group) { return group.freedom == 0; });
    if (negative)
      to.lead =
          "A negative variance says that units of the group differ by less than the spread within them would make "
          "their means differ: take it as none, or look for what evens them out.";
    if (merged)
      to.lead += std::string(to.lead.empty() ? "" : " ") +
                 "A group that has one unit in each unit of the one it is part of is not told apart from it.";
    to.panels.push_back({"", "", fit_groups_table(r_)});
  }

  void gauges() {
    if (!r_.gauge) return;
    const GaugeEffect& effect = *r_.gauge;
    PageFigure& to = figure("gauge", "Gauge");
    for (const GaugeRow& gauge : effect.gauges)
      if (gauge.disagrees())
        to.marks.push_back(gauge.name +
                           " disagrees with the others by more than their biases and repeatabilities allow");
    if (effect.variance > 0.0)
      to.lead = fmt::format(
          "The gauge makes {} % of the variance of the readings; without it the standard deviation is {}{}, 95 % "
          "interval {} to {}{}.",
          significant(100.0 * effect.error_variance / effect.measured_variance, 2),
          significant(std::sqrt(effect.variance), 3), unit_, significant(std::sqrt(effect.interval.lower), 3),
          significant(std::sqrt(effect.interval.upper), 3), unit_);
    else
      to.marks.push_back(
          "the gauge's variance is not below that of the readings: its repeatability is stated too large, or the "
          "readings were averaged");
    to.panels.push_back({"", "", fit_gauge_table(r_)});
  }

  void tails() {
    std::string lead = fmt::format(
        "{} independent values say, with 95 % confidence, that at least {} % of production lies between the smallest "
        "and the largest of them, whatever its shape, and {} % below the largest. For 99.73 % between them {} values "
        "would be needed.",
        counted(r_.values), significant(100.0 * r_.tails.between_extremes, 4),
        significant(100.0 * r_.tails.below_largest, 4), counted(r_.tails.needed));
    if (r_.tails.factor > 0.0)
      lead += fmt::format(" If production is normal, {} to {}{} encloses 99.73 % of the readings with that confidence.",
                          significant(r_.tails.lower, 5), significant(r_.tails.upper, 5), unit_);
    figure("tails", "How far the tails may be trusted", lead);
  }

  void lines() {
    std::vector<std::pair<std::string, std::string>> told;
    for (const ShapeRow& shape : r_.shapes)
      if (shape.obstacle.empty() && shape.behind <= 2.0 && !shape.line.empty() && told.size() < 3)
        told.emplace_back(shape.name + (&shape == best() ? ", the best" : ", nearly as good"), shape.line);
    if (!r_.group_line.empty()) told.emplace_back("normal, by group", r_.group_line);
    if (!r_.data_line.empty()) told.emplace_back("the values themselves, smoothed", r_.data_line);
    const std::string lead = r_.data_obstacle.empty() ? ""
                                                      : "The values themselves cannot be taken as they stand, since " +
                                                            r_.data_obstacle + ".";
    if (!told.empty() || !lead.empty()) figure("lines", "For a specification", lead).lines = std::move(told);
  }

  const MeasuredResult& r_;
  std::string name_, unit_;
  PageContent content_;
};

}  // namespace

std::string measured_page(const MeasuredResult& result) { return rendered(FitPage(result).write()); }

}  // namespace mintspread::reports
