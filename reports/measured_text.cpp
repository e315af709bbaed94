#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "reports/measured.hpp"
#include "reports/measured_tables.hpp"
#include "reports/numbers.hpp"
#include "reports/paper.hpp"

namespace mintspread::reports {

namespace {

using namespace measured;

/// What the repeatabilities of the gauges rest on.
std::string rests_on(const GaugeEffect& effect) {
  const auto counted = [](const GaugeRow& gauge) { return gauge.freedom > 0.0; };
  const auto known = std::ranges::count_if(effect.gauges, counted);
  if (known == 0) return "as stated";
  const std::string so = ", whose uncertainty is in the interval";
  if (effect.gauges.size() == 1) return "of " + significant(effect.gauges.front().freedom + 1.0) + " readings" + so;
  return (known < std::ssize(effect.gauges) ? "as stated or of readings" : "of readings") + so;
}

/// Degrees of freedom of the biases' uncertainties, in words behind them; "" where no uncertainty is stated.
std::string bias_rests_on(const GaugeEffect& effect) {
  std::string all;
  bool stated = false;
  for (const GaugeRow& gauge : effect.gauges) {
    if (!(gauge.bias_uncertainty > 0.0)) continue;
    stated = true;
    const bool of_few = gauge.bias_freedom > 0.0;
    if (effect.gauges.size() > 1 && of_few) all += fmt::format("{}{} ", all.empty() ? "" : ", ", gauge.name);
    if (of_few) all += significant(gauge.bias_freedom, 3);
  }
  if (!stated) return "";
  return all.empty() ? ", taken as known" : fmt::format(" (degrees of freedom: {})", all);
}

class Teller {
 public:
  Teller(const MeasuredResult& result, const TextOptions& options)
      : r_(result), unit_(result.unit.empty() ? "" : " " + result.unit), paper_(options) {}

  std::string tell() {
    column();
    shapes();
    reach();
    picture();
    groups();
    gauges();
    tails();
    lines();
    return paper_.take();
  }

 private:
  std::string number(double value) const { return significant(value, 5) + unit_; }
  static std::string spread(double value) { return significant(value, 3); }

  void column() {
    std::string head = fmt::format("{} of {}: {} values", r_.column, r_.file, count(r_.values));
    if (!r_.unit.empty()) head += " in " + r_.unit;
    if (r_.gaps > 0) head += fmt::format(", {} {}", count(r_.gaps), r_.gaps == 1 ? "gap" : "gaps");
    if (r_.below_limit > 0) head += fmt::format(", {} below a limit", count(r_.below_limit));
    if (r_.above_limit > 0) head += fmt::format(", {} above a limit", count(r_.above_limit));
    paper_.paragraph(head, Tone::strong);
    const int mean_places = decimal_places(r_.mean_uncertainty);
    const int sd_places = decimal_places(0.25 * (r_.sd_upper - r_.sd_lower));
    paper_.paragraph(
        fmt::format("mean {}{} (standard uncertainty {}), sd {}{} (95 % interval {} to {}), smallest {}, median {}, "
                    "largest {}, skewness {}",
                    fixed(r_.mean, mean_places), unit_, spread(r_.mean_uncertainty), fixed(r_.sd, sd_places), unit_,
                    fixed(r_.sd_lower, sd_places), fixed(r_.sd_upper, sd_places), significant(r_.smallest),
                    significant(r_.median), significant(r_.largest), significant(r_.skewness, 2)));
    if (r_.step > 0.0)
      paper_.paragraph(fmt::format("Values are rounded to steps of {}{}: each is taken as the interval it stands for.",
                                   number(r_.step), r_.step_stated ? ", as stated" : ", as they are written"));
    if (r_.step > 0.5 * r_.sd)
      paper_.paragraph("The step is more than half of the standard deviation: such values hardly tell shapes apart.",
                       Tone::doubtful);
    if (r_.sorted_lower)
      paper_.paragraph(fmt::format("Pieces outside of {} to {} had been sorted out before, as stated.",
                                   significant(*r_.sorted_lower), number(*r_.sorted_upper)));
  }

  void shapes() {
    paper_.heading("Shapes, best first", "by maximum likelihood");
    TextTable table{{{"shape", Align::left}, {"parameters"}, {"AICc"}, {"behind"}, {"A2"}, {"chance"}}, 1, {}};
    std::string not_fitted;
    bool formula = false, simulated = false;
    for (const ShapeRow& shape : r_.shapes) {
      if (!shape.obstacle.empty()) {
        not_fitted += fmt::format("{}{}: {}", not_fitted.empty() ? "Not fitted: " : "; ", shape.name, shape.obstacle);
        continue;
      }
      std::string chance;
      if (shape.p_value) {
        (shape.simulated ? simulated : formula) = true;
        const bool smallest = shape.simulated && *shape.p_value * static_cast<double>(r_.draws + 1) < 1.5;
        chance = (smallest ? "<= " : "") +
                 (*shape.p_value < 1e-4 ? std::string("< 0.0001") : significant(*shape.p_value, 2)) +
                 (shape.simulated ? " s" : "  ");
      }
      table.rows.push_back({shape.name, std::to_string(shape.estimated), told(shape.aicc), told(shape.behind),
                            shape.a_squared ? significant(*shape.a_squared, 3) : "", chance});
    }
    paper_.table(table);
    paper_.paragraph(
        "AICc is the corrected information criterion of Akaike: shapes less than 2 behind the best do as well, those "
        "more than 10 behind do not (it counts ends at which a density stops short twice). A2 is the statistic of "
        "Anderson and Darling; chance is the probability of a "
        "larger one if "
        "the shape were right.",
        Tone::plain, 2);
    if (r_.below_limit + r_.above_limit > 0)
      paper_.paragraph("Readings beyond a limit have no place among the ordered values, so there is no A2.",
                       Tone::plain, 2);
    if (formula)
      paper_.paragraph(
          "Of normal and lognormal the chance is by the formula of D'Agostino and Stephens for estimated numbers.",
          Tone::plain, 2);
    if (simulated)
      paper_.paragraph(
          fmt::format("s: from {} samples drawn from the fitted shape, rounded and fitted likewise.", r_.draws),
          Tone::plain, 2);
    if (!not_fitted.empty()) paper_.paragraph(not_fitted + ".", Tone::plain, 2);
  }

  void reach() {
    if (!best()) return;
    paper_.heading("Quantiles of the readings", "value, 95 % interval if the shape is right");
    TextTable table{{{"shape", Align::left}, {"0.135 %"}, {"50 %"}, {"99.865 %"}}, 1, {}};
    bool simulated = false;
    for (const ShapeRow& shape : r_.shapes) {
      if (!near_best(shape)) continue;
      const auto cell = [&](double value, std::size_t i) {
        if (!shape.reach || !((*shape.reach)[i].lower < (*shape.reach)[i].upper)) return significant(value, 5);
        simulated = true;
        const Range& range = (*shape.reach)[i];
        const int places = decimal_places(0.5 * (range.upper - range.lower));
        return fmt::format("{} ({} to {})", fixed(value, places), fixed(range.lower, places),
                           fixed(range.upper, places));
      };
      table.rows.push_back({shape.name, cell(shape.lower_reach, 0), cell(shape.median, 1), cell(shape.upper_reach, 2)});
    }
    paper_.table(table);
    paper_.paragraph(simulated
                         ? fmt::format("Intervals by {} samples drawn from the shape and fitted likewise. They do not "
                                       "tell that the shape may be another one: compare the rows.",
                                       r_.draws)
                         : std::string("No samples were drawn, so that the intervals are not known (--draws)."),
                     Tone::plain, 2);
  }

  /// Of criteria, whose differences of a tenth say something where they are small.
  static std::string told(double criterion) { return fixed(criterion, std::abs(criterion) < 1e5 ? 1 : 0); }

  const ShapeRow* best() const {
    return !r_.shapes.empty() && r_.shapes.front().obstacle.empty() ? &r_.shapes.front() : nullptr;
  }

  void picture() {
    if (r_.bars.empty() || !best()) return;
    paper_.heading("Data and fit", fmt::format("# values, | what the {} expects", best()->name));
    double most = 1.0;
    for (const Bar& bar : r_.bars) most = std::max({most, static_cast<double>(bar.count), bar.expected});
    const double room = static_cast<double>(std::min<std::size_t>(paper_.width(), 110)) - 34.0;
    TextTable table{{{"from"}, {"to"}, {"values"}, {"", Align::left}}, 1, {}};
    for (const Bar& bar : r_.bars) {
      const auto length = static_cast<std::size_t>(std::lround(room * static_cast<double>(bar.count) / most));
      const auto mark = static_cast<std::size_t>(std::lround(room * bar.expected / most));
      std::string drawn(std::max(length, mark + 1), ' ');
      std::fill_n(drawn.begin(), length, '#');
      drawn[mark] = '|';
      table.rows.push_back({significant(bar.lower, 5), significant(bar.upper, 5), count(bar.count), drawn});
    }
    paper_.table(table);
  }

  void groups() {
    if (r_.groups.empty()) return;
    paper_.heading("Spread by group", "nested analysis of variance");
    TextTable table{{{"group", Align::left},
                     {"units"},
                     {"degrees of freedom"},
                     {"mean square"},
                     {"variance"},
                     {"its uncertainty"},
                     {"sd"},
                     {"95 % interval"},
                     {"share, 95 % interval"}},
                    1,
                    {}};
    bool negative = false, merged = false;
    for (std::size_t i = 0; i < r_.groups.size(); ++i) {
      const GroupRow& group = r_.groups[i];
      const bool last = i + 1 == r_.groups.size();
      const std::string name = last ? "within " + r_.groups[i - 1].name : group.name;
      if (group.freedom == 0) {
        merged = true;
        table.rows.push_back({name, last ? "" : count(group.units), "0", "", "not told apart"});
        continue;
      }
      negative = negative || group.variance < 0.0;
      table.rows.push_back(
          {name, last ? "" : count(group.units), count(group.freedom), spread(group.mean_square),
           significant(group.variance, 3), significant(group.uncertainty, 2),
           group.variance >= 0.0 ? spread(std::sqrt(group.variance)) + unit_ : "negative",
           spread(std::sqrt(group.lower)) + " to " + spread(std::sqrt(group.upper)),
           fmt::format("{} ({} to {}) %", fixed(100.0 * group.share, 1), fixed(100.0 * group.share_interval.lower, 1),
                       fixed(100.0 * group.share_interval.upper, 1))});
    }
    paper_.table(table);
    if (negative)
      paper_.paragraph(
          "A negative variance says that units of the group differ by less than the spread within them would make "
          "their "
          "means differ: take it as none, or look for what evens them out.",
          Tone::plain, 2);
    if (merged)
      paper_.paragraph("A group that has one unit in each unit of the one it is part of is not told apart from it.",
                       Tone::plain, 2);
  }

  void gauges() {
    if (!r_.gauge) return;
    const GaugeEffect& effect = *r_.gauge;
    paper_.heading("Gauge");
    TextTable table{{{"gauge", Align::left}, {"bias taken off"}, {"its uncertainty"}, {"repeatability"}}, 1, {}};
    const bool several = effect.gauges.size() > 1;
    if (several) table.columns.insert(table.columns.end(), {{"weight"}, {"against all, 95 %"}});
    std::uint64_t outside = 0;
    for (const GaugeRow& gauge : effect.gauges) {
      std::string bias = spread(gauge.bias) + unit_;
      if (gauge.proportional_bias != 0.0)
        bias = (gauge.bias != 0.0 ? bias + " and " : "") + spread(100.0 * gauge.proportional_bias) + " %";
      std::vector<std::string> row{gauge.name, bias, spread(gauge.bias_uncertainty) + unit_,
                                   spread(gauge.repeatability) + unit_};
      if (several) row.push_back(fixed(100.0 * gauge.weight, 0) + " %");
      if (several && gauge.difference)
        row.push_back(fmt::format("{} +/- {}", spread(*gauge.difference), spread(*gauge.difference_expanded)));
      table.rows.push_back(std::move(row));
      outside += gauge.outside_range;
    }
    paper_.table(table);
    if (const std::string bias = bias_rests_on(effect); !bias.empty())
      paper_.paragraph(
          fmt::format("With the uncertainty of the bias{}, the mean has a standard uncertainty of {}, 95 % interval {} "
                      "to {}.",
                      bias, spread(effect.mean_uncertainty) + unit_, significant(effect.mean_interval.lower, 5),
                      number(effect.mean_interval.upper)),
          Tone::plain, 2);
    const double part = effect.error_variance / effect.measured_variance;
    if (effect.variance > 0.0)
      paper_.paragraph(
          fmt::format("Of the variance of the readings, {} {}2, the gauge makes {} % by its repeatability {}; "
                      "without it the sd is {}, 95 % interval {} to {} (readings {}, {} to {}).",
                      spread(effect.measured_variance), r_.unit, significant(100.0 * part, 2), rests_on(effect),
                      spread(std::sqrt(effect.variance)) + unit_, spread(std::sqrt(effect.interval.lower)),
                      spread(std::sqrt(effect.interval.upper)), spread(std::sqrt(effect.measured_variance)),
                      spread(std::sqrt(effect.measured_interval.lower)),
                      spread(std::sqrt(effect.measured_interval.upper))),
          Tone::plain, 2);
    else
      paper_.paragraph(
          fmt::format(
              "The gauge's variance, {}, is not below that of the readings, {}: what is left comes out as {}. Its "
              "repeatability is stated too large, or the readings were averaged.",
              spread(effect.error_variance), spread(effect.measured_variance), significant(effect.variance, 3)),
          Tone::doubtful, 2);
    if (effect.pieces_a_reading > 1)
      paper_.paragraph(
          fmt::format("Each reading is the mean of {} pieces: single pieces spread more, and only the part within "
                      "the innermost group tells how much.",
                      effect.pieces_a_reading),
          Tone::plain, 2);
    if (outside > 0)
      paper_.paragraph(fmt::format("{} readings lie outside of the gauge's range.", count(outside)), Tone::doubtful, 2);
    for (const GaugeRow& gauge : effect.gauges)
      if (gauge.disagrees())
        paper_.paragraph(
            fmt::format("{} disagrees with the others by more than their biases and repeatabilities allow.",
                        gauge.name),
            Tone::doubtful, 2);
  }

  void tails() {
    paper_.heading("How far the tails may be trusted", "95 % confidence");
    const TailReach& t = r_.tails;
    paper_.paragraph(
        fmt::format("{} independent values say that at least {} % of production lies between the smallest and the "
                    "largest of them, "
                    "whatever its shape, and {} % below the largest. What lies beyond is the shape's word, not the "
                    "data's. For 99.73 % between the extremes {} values would be needed.",
                    count(r_.values), significant(100.0 * t.between_extremes, 4),
                    significant(100.0 * t.below_largest, 4), count(t.needed)),
        Tone::plain, 2);
    if (t.factor > 0.0)
      paper_.paragraph(
          fmt::format("If production is normal, mean +- {} sd, {} to {}, encloses 99.73 % of it (of the readings).",
                      significant(t.factor, 4), significant(t.lower, 5), number(t.upper)),
          Tone::plain, 2);
    if (told_apart(r_))
      paper_.paragraph(
          "Values of one unit of a group are alike and not independent: these statements, and the chances and "
          "intervals of quantiles above, are then too sure.",
          Tone::doubtful, 2);
  }

  void lines() {
    paper_.heading("For a specification");
    const auto line = [&](std::string_view about, const std::string& text) {
      paper_.paragraph(about, Tone::plain, 2);
      paper_.unbroken(text, 4);
    };
    std::size_t told = 0;
    for (const ShapeRow& shape : r_.shapes) {
      if (!shape.obstacle.empty() || shape.behind > 2.0 || told == 3) break;
      if (shape.line.empty() && r_.gauge && r_.gauge->pieces_a_reading > 1) {
        paper_.paragraph(shape.name + ": of means of several pieces, which say little about the shape of single ones.",
                         Tone::plain, 2);
        break;
      }
      if (shape.line.empty()) {
        paper_.paragraph(shape.name + ": nothing is left of its spread without the gauge's error.", Tone::plain, 2);
        continue;
      }
      line(told++ == 0 ? shape.name + ", the best:" : shape.name + ", nearly as good:", shape.line);
    }
    if (!r_.group_line.empty()) line("normal, by group:", r_.group_line);
    if (!r_.data_line.empty()) line("the values themselves, smoothed:", r_.data_line);
    if (!r_.data_obstacle.empty())
      paper_.paragraph("the values themselves: not as they stand, since " + r_.data_obstacle + ".", Tone::plain, 2);
  }

  const MeasuredResult& r_;
  std::string unit_;
  Paper paper_;
};

}  // namespace

std::string measured_text(const MeasuredResult& result, const TextOptions& options) {
  return Teller(result, options).tell();
}

}  // namespace mintspread::reports
