#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "reports/measured.hpp"
#include "reports/numbers.hpp"
#include "reports/page_style.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace measured;

/// With narrow blanks that no line breaks at.
std::string counted(std::uint64_t number) { return count(number, "\u202f"); }

class PageWriter {
 public:
  explicit PageWriter(const MeasuredResult& result) : r_(result), unit_(result.unit.empty() ? "" : " " + result.unit) {}

  std::string write() {
    head();
    if (const ShapeRow* best = this->best()) {
      histogram(*best);
      quantiles(*best);
    }
    shapes();
    groups();
    gauges();
    tails();
    lines();
    out_ += "</main>\n</body>\n</html>\n";
    return std::move(out_);
  }

 private:
  using Row = std::vector<std::string>;

  const ShapeRow* best() const {
    return !r_.shapes.empty() && r_.shapes.front().obstacle.empty() ? &r_.shapes.front() : nullptr;
  }
  void paragraph(const std::string& text) { out_ += "<p>" + escaped(text) + "</p>\n"; }
  void heading(const std::string& text) { out_ += "<h2>" + escaped(text) + "</h2>\n"; }
  void figure(Drawing& drawing, const std::string& caption) {
    out_ += "<figure>\n" + drawing.take() + "\n<figcaption>" + escaped(caption) + "</figcaption>\n</figure>\n";
  }
  void table(const std::string& caption, const Row& columns, const std::vector<Row>& rows) {
    out_ += "<table><caption>" + escaped(caption) + "</caption>\n<thead><tr>";
    for (const std::string& column : columns) out_ += "<th scope=\"col\">" + escaped(column) + "</th>";
    out_ += "</tr></thead>\n<tbody>\n";
    for (const Row& row : rows) {
      out_ += "<tr><th scope=\"row\">" + escaped(row.front()) + "</th>";
      for (std::size_t i = 1; i < row.size(); ++i) out_ += "<td>" + escaped(row[i]) + "</td>";
      out_ += "</tr>\n";
    }
    out_ += "</tbody></table>\n";
  }

  void head() {
    const std::string title = escaped(fmt::format("{} of {}", r_.column, r_.file));
    out_ += fmt::format(
        "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
        "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; style-src 'unsafe-inline'; img-src "
        "data:\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
        "<meta name=\"color-scheme\" content=\"light dark\">\n<link rel=\"icon\" href=\"data:,\">\n"
        "<title>{}</title>\n<style>{}</style>\n</head>\n<body>\n<main>\n<h1>{}</h1>\n",
        title, page_style(), title);
    std::string what = fmt::format("{} values", counted(r_.values));
    if (!r_.unit.empty()) what += " in " + r_.unit;
    if (r_.gaps > 0) what += fmt::format(", {} {}", counted(r_.gaps), r_.gaps == 1 ? "gap" : "gaps");
    if (r_.below_limit > 0) what += fmt::format(", {} below a limit", counted(r_.below_limit));
    if (r_.above_limit > 0) what += fmt::format(", {} above a limit", counted(r_.above_limit));
    what += fmt::format("; mean {}{}, standard deviation {}{} (95 % interval {} to {}).",
                        fixed(r_.mean, decimal_places(r_.mean_uncertainty)), unit_, significant(r_.sd, 3), unit_,
                        significant(r_.sd_lower, 3), significant(r_.sd_upper, 3));
    if (r_.step > 0.0) what += fmt::format(" Rounded to steps of {}{}.", significant(r_.step), unit_);
    paragraph(what);
  }

  void histogram(const ShapeRow& best) {
    if (r_.bars.empty()) return;
    constexpr double top = 14.0, bottom = 210.0;
    double most = 1.0;
    for (const Bar& bar : r_.bars) most = std::max({most, static_cast<double>(bar.count), bar.expected});
    const Scale x{r_.bars.front().lower, r_.bars.back().upper, drawing_left, drawing_right};
    const Scale y{0.0, most, bottom, top};
    Drawing drawing(
        "data-and-fit", bottom + text_line + 14.0, "Data and fit",
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
    figure(drawing, fmt::format("Filled: values. Dashed: what the {} expects in each class.", best.name));
    std::vector<Row> rows;
    for (const Bar& bar : r_.bars)
      rows.push_back({fmt::format("{} to {}", significant(bar.lower, 5), significant(bar.upper, 5)), counted(bar.count),
                      fixed(bar.expected, 1)});
    table("Values by class" + (r_.unit.empty() ? "" : ", in " + r_.unit), {"class", "values", best.name}, rows);
  }

  void quantiles(const ShapeRow& best) {
    if (r_.pairs.size() < 2) return;
    constexpr double top = 14.0, bottom = 330.0;
    const double from = std::min(r_.pairs.front().expected, r_.pairs.front().observed);
    const double to = std::max(r_.pairs.back().expected, r_.pairs.back().observed);
    const Scale x{from, to, drawing_left + 60.0, drawing_right}, y{from, to, bottom, top};
    Drawing drawing(
        "quantiles", bottom + text_line + 14.0, "Quantiles of data and fit",
        fmt::format("Ordered values against the quantiles of the {}: on the line they agree. The smallest "
                    "value is {}, expected {}; the largest {}, expected {}.",
                    best.name, significant(r_.pairs.front().observed, 5), significant(r_.pairs.front().expected, 5),
                    significant(r_.pairs.back().observed, 5), significant(r_.pairs.back().expected, 5)));
    const Ticks ticks = round_ticks(from, to, 6);
    for (double tick : ticks.values) {
      drawing.line(x.at_from, y(tick), x.at_to, y(tick), "hair");
      drawing.text(x.at_from - 8.0, y(tick) + 5.0, Anchor::end, fixed(tick, ticks.places), "soft");
    }
    drawing.line(x(from), y(from), x(to), y(to), "alone");
    Points dots;
    for (const QuantilePair& pair : r_.pairs) dots.push_back({x(pair.expected), y(pair.observed)});
    drawing.dots(dots, "dots");
    drawing.ruler(x, ticks, bottom);
    figure(drawing, fmt::format("Across: quantiles of the {}. Up: the values, smallest to largest{}.", best.name,
                                r_.unit.empty() ? "" : ", both in " + r_.unit));
  }

  void shapes() {
    heading("Shapes, best first");
    std::vector<Row> rows;
    for (const ShapeRow& shape : r_.shapes) {
      if (!shape.obstacle.empty()) continue;
      const std::string chance = !shape.p_value          ? ""
                                 : *shape.p_value < 1e-4 ? "< 0.0001"
                                                         : significant(*shape.p_value, 2);
      rows.push_back({shape.name, std::to_string(shape.estimated), fixed(shape.behind, 1),
                      shape.a_squared ? significant(*shape.a_squared, 3) : "",
                      chance + (chance.empty()    ? ""
                                : shape.simulated ? " simulated"
                                                  : " formula"),
                      significant(shape.lower_reach, 5), significant(shape.median, 5),
                      significant(shape.upper_reach, 5)});
    }
    table("Fitted by maximum likelihood",
          {"shape", "parameters", "AICc behind the best", "Anderson-Darling", "chance of a larger one", "0.135 %",
           "50 %", "99.865 %"},
          rows);
    for (const ShapeRow& shape : r_.shapes)
      if (!shape.obstacle.empty()) paragraph(fmt::format("{}: not fitted, {}.", shape.name, shape.obstacle));
  }

  void groups() {
    if (r_.groups.empty()) return;
    heading("Spread by group");
    std::vector<Row> rows;
    for (std::size_t i = 0; i < r_.groups.size(); ++i) {
      const GroupRow& group = r_.groups[i];
      const bool told = group.freedom > 0;
      rows.push_back({i + 1 == r_.groups.size() ? "within " + r_.groups[i - 1].name : group.name, counted(group.units),
                      counted(group.freedom), told ? significant(group.variance, 3) : "not told apart",
                      told ? significant(group.uncertainty, 2) : "",
                      !told                   ? ""
                      : group.variance >= 0.0 ? significant(std::sqrt(group.variance), 3)
                                              : "negative",
                      told && group.variance >= 0.0 ? fixed(100.0 * group.share, 1) + " %" : ""});
    }
    table("Nested analysis of variance",
          {"group", "units", "degrees of freedom", "variance", "its uncertainty", "standard deviation", "share"}, rows);
  }

  void gauges() {
    if (!r_.gauge) return;
    heading("Gauge");
    std::vector<Row> rows;
    for (const GaugeRow& gauge : r_.gauge->gauges)
      rows.push_back({gauge.name, significant(gauge.bias, 3) + unit_,
                      significant(100.0 * gauge.proportional_bias, 3) + " %",
                      significant(gauge.repeatability, 3) + unit_, fixed(100.0 * gauge.weight, 0) + " %"});
    table("Taken out", {"gauge", "bias", "bias in proportion", "repeatability", "weight"}, rows);
    paragraph(fmt::format("Variance of the readings {}, of the gauge {}, left {}.",
                          significant(r_.gauge->measured_variance, 3), significant(r_.gauge->error_variance, 3),
                          significant(r_.gauge->variance, 3)));
  }

  void tails() {
    heading("How far the tails may be trusted");
    paragraph(fmt::format(
        "{} independent values say, with 95 % confidence, that at least {} % of production lies between the smallest "
        "and the largest of them, whatever its shape. For 99.73 % {} values would be needed.",
        counted(r_.values), significant(100.0 * r_.tails.between_extremes, 4), counted(r_.tails.needed)));
    if (r_.tails.factor > 0.0)
      paragraph(
          fmt::format("If production is normal, {} to {}{} encloses 99.73 % of the readings with that confidence.",
                      significant(r_.tails.lower, 5), significant(r_.tails.upper, 5), unit_));
  }

  void lines() {
    heading("For a specification");
    std::vector<std::string> told;
    for (const ShapeRow& shape : r_.shapes)
      if (shape.obstacle.empty() && shape.behind <= 2.0 && !shape.line.empty()) told.push_back(shape.line);
    if (!r_.group_line.empty()) told.push_back(r_.group_line);
    if (!r_.data_line.empty()) told.push_back(r_.data_line);
    for (const std::string& line : told) out_ += "<p><code>" + escaped(line) + "</code></p>\n";
  }

  const MeasuredResult& r_;
  std::string unit_, out_;
};

}  // namespace

std::string measured_page(const MeasuredResult& result) { return PageWriter(result).write(); }

}  // namespace mintspread::reports
