#include <algorithm>
#include <cmath>
#include <string>

#include "reports/budget_text.hpp"
#include "reports/marks.hpp"
#include "reports/numbers.hpp"
#include "reports/paper.hpp"
#include "reports/stages.hpp"
#include "reports/text.hpp"
#include "reports/words.hpp"
#include "reports/yield.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

std::string range(const std::string& lower, const std::string& upper) {
  return lower.empty() ? "" : lower + " .. " + upper;
}

std::string band_of(const Told& text) { return range(text.band_lower, text.band_upper); }

bool any_band(const Result& result) {
  return std::any_of(result.channels.begin(), result.channels.end(),
                     [](const auto& c) { return c.reading.mean.band.has_value(); }) ||
         std::any_of(result.windows.begin(), result.windows.end(),
                     [](const auto& w) { return w.accepted.band.has_value(); });
}

void accepted(Paper& paper, const Result& result, Marks& marks) {
  paper.heading("Accepted, % of pieces", "95 % interval of the sampling error; band of what is not known");
  TextTable table{
      {{"class", Align::left}, {"accepted"}, {"interval"}, {"band"}, {"rejects most", Align::left, true}}, 1, {}};
  if (!any_band(result)) table.columns.erase(table.columns.begin() + 3);
  for (const auto& set : result.windows) {
    const Told text = told_percent(set.accepted);
    std::string most = std::isnan(set.accepted.value) ? "no piece was finished" : "nothing rejected";
    if (set.worst) {
      const auto& worst = set.criteria[*set.worst];
      most = marks.on(worst.name, marks_of(result, worst)) + ": ";
      const bool high = worst.rejected_high.value > worst.rejected_low.value;
      const auto& side = high ? worst.rejected_high : worst.rejected_low;
      most += side.value > 0 ? percent(told_percent(side)) + (high ? " too high" : " too low") : "no value";
    }
    std::vector<std::string> row{set.machine_class, text.value, range(text.lower, text.upper)};
    if (any_band(result)) row.push_back(band_of(text));
    row.push_back(most);
    table.rows.push_back(row);
  }
  paper.table(table);
}

void criteria(Paper& paper, const Result& result, Marks& marks) {
  paper.heading("Windows, % of pieces", "one criterion at a time, worst first; at worst: the end of the 95 % interval");
  TextTable table{{{"class", Align::left},
                   {"criterion", Align::left},
                   {"window", Align::left},
                   {"nominal"},
                   {"accepted", Align::right, false, true},
                   {"too low"},
                   {"too high"},
                   {"only here"}},
                  2,
                  {}};
  for (const auto& set : result.windows) {
    std::vector<const CriterionResult*> order;
    for (const auto& c : set.criteria) order.push_back(&c);
    std::stable_sort(order.begin(), order.end(),
                     [](auto* a, auto* b) { return a->accepted.value < b->accepted.value; });
    for (const auto* c : order) {
      std::vector<std::string> values{c == order.front() ? set.machine_class : "",
                                      marks.on(c->name, marks_of(result, *c)), window_text(*c),
                                      significant(c->nominal)};
      std::vector<std::string> ends{"", "", "", "at worst"};
      for (const Figure* figure : {&c->accepted, &c->rejected_low, &c->rejected_high, &c->rejected_only_here}) {
        const Told text = told_percent(*figure);
        values.push_back(text.value);
        const bool told_by_end = text.half_width.empty();
        ends.push_back(told_by_end ? "" : figure == &c->accepted ? text.lower : text.upper);
      }
      table.rows.push_back(values);
      if (std::any_of(ends.begin() + 4, ends.end(), [](const auto& end) { return !end.empty(); }))
        table.rows.push_back(ends);
    }
  }
  paper.table(table);
}

// One line of values, one of half-widths under it, so that eight figures and their uncertainty fit a terminal.
void add_spread_rows(TextTable& table, const std::string& name, const std::string& unit, double nominal,
                     const Spread& spread, const Figure* coin_sd, double nominal_error) {
  std::vector<std::string> values{name, unit, ""}, errors{"", "±", ""};
  if (nominal_error > 0.0) errors[2] = significant(nominal_error, 2);
  const Told mean = told(spread.mean);
  values[2] = spread.mean.interval ? fixed(nominal, mean.places) : significant(nominal);
  const auto add = [&](const Figure& figure) {
    const Told text = told(figure);
    values.push_back(text.value);
    errors.push_back(text.half_width);
  };
  add(spread.mean);
  add(spread.sd);
  if (coin_sd != nullptr) {
    add(*coin_sd);
  } else {
    values.emplace_back(), errors.emplace_back();
  }
  add(spread.median);
  for (const auto& q : spread.quantiles) add(q.figure);
  table.rows.push_back(values);
  table.rows.push_back(errors);
}

void channels(Paper& paper, const Result& result, Marks& marks) {
  paper.heading("Readings", "± half-width of the 95 % interval of the sampling error; columns in % are quantiles");
  const Included what = included(result);
  paper.paragraph("includes " + what.reading, Tone::plain, 2, 2);
  paper.paragraph("coin sd includes " + what.coin, Tone::plain, 2, 2);
  for (const auto& sentence : model_words(result)) paper.paragraph(sentence, Tone::plain, 2, 2);
  TextTable table{
      {{"channel", Align::left}, {"unit", Align::left}, {"nominal"}, {"mean"}, {"sd"}, {"coin sd"}, {"median"}}, 2, {}};
  if (!result.channels.empty()) {
    for (const auto& q : result.channels.front().reading.quantiles) {
      table.columns.push_back({significant(100 * q.probability) + " %"});
    }
  }
  if (table.columns.size() > 7) table.columns[7].apart = true;
  for (const auto& c : result.channels) {
    add_spread_rows(table, marks.on(c.name, c.marks), c.unit, c.nominal, c.reading, &c.coin.sd, c.model_error);
  }
  for (const auto& subject : subjects(result)) {
    if (subject.channel != nullptr || subject.reading == nullptr) continue;
    const std::string name = result.windows[subject.windows.front().set].machine_class + ": " + subject.name;
    add_spread_rows(table, marks.on(name, subject.marks), subject.unit, subject.nominal, *subject.reading, nullptr,
                    0.0);
  }
  paper.table(table);
  for (const auto& c : result.channels) {
    if (c.undefined == 0) continue;
    paper.paragraph(
        count(c.undefined) + " pieces have no value in " + c.name + ": they fail every window that uses it.",
        Tone::doubtful, 2, 2);
  }
}

void bands(Paper& paper, const Result& result, Marks& marks) {
  if (!any_band(result)) return;
  std::vector<std::string> names;
  for (const auto* input : unknown_inputs(result)) names.push_back(input->path);
  paper.heading("What is not known moves", list_of(names));
  TextTable table{{{"channel", Align::left}, {"unit", Align::left}, {"mean"}, {"sd"}, {"median"}}, 2, {}};
  for (const auto& c : result.channels) {
    if (!c.reading.mean.band) continue;
    table.rows.push_back({marks.on(c.name, c.marks), c.unit, band_of(told(c.reading.mean)), band_of(told(c.reading.sd)),
                          band_of(told(c.reading.median))});
  }
  paper.table(table);
  paper.paragraph("Range over " + count(result.provenance.outer_draws) + " draws of what is not known, " +
                      count(result.provenance.outer_pieces) +
                      " pieces each; the bands of fractions stand with the acceptance above.",
                  Tone::plain, 2, 2);
}

void targets(Paper& paper, const Result& result) {
  if (result.targets.empty()) return;
  paper.heading("Targets");
  for (const auto& t : result.targets) {
    const Tone tone = !t.decided ? Tone::doubtful : t.met ? Tone::good : Tone::bad;
    const Told text = told_percent(t.figure);
    paper.paragraph(t.text + ": " + target_word(t) + " (" + percent(text) +
                        (text.lower.empty() ? "" : ", interval " + range(text.lower, text.upper) + " %") + ")",
                    tone, 2, 4);
  }
}

void precision(Paper& paper, const Result& result) {
  if (!result.precision) return;
  paper.heading("Precision");
  paper.paragraph(precision_words(result, *result.precision), result.precision->met ? Tone::good : Tone::bad, 2, 4);
}

void closing(Paper& paper, const Result& result, const Marks& marks) {
  paper.heading("Notes");
  marks.explain(paper);
  for (const auto& warning : result.warnings) paper.paragraph("warning: " + warning, Tone::doubtful, 2, 4);
  if (result.unsolved > 0) {
    std::string text =
        count(result.unsolved) +
        " pieces could not be computed and are left out; the intervals of fractions are widened by them. Indices: ";
    for (std::size_t i = 0; i < result.first_unsolved.size(); ++i)
      text += (i ? ", " : "") + std::to_string(result.first_unsolved[i]);
    paper.paragraph(text, Tone::doubtful, 2, 2);
  }
  paper.paragraph("Intervals: " + method_words(result) + ".", Tone::plain, 2, 2);

  paper.heading("Next");
  for (const auto& step : next_steps(result, true)) paper.paragraph("- " + step, Tone::plain, 2, 2);

  paper.gap();
  paper.paragraph(origin(result));
  std::string caution;
  for (const auto& sentence : cautions()) caution += (caution.empty() ? "" : " ") + sentence;
  paper.paragraph(caution);
}

}  // namespace

std::string preview_text(const Result& result) {
  Paper paper(TextOptions{});
  TextTable table{{{"channel", Align::left}, {"unit", Align::left}, {"mean"}, {"sd"}}, 1, {}};
  for (const auto& c : result.channels)
    table.rows.push_back({c.name, c.unit, told(c.reading.mean).value, told(c.reading.sd).value});
  paper.table(table);
  for (const auto& set : result.windows) {
    // A class that looks where this model is known to be wrong has no verdict yet.
    const bool marked = std::ranges::any_of(
        set.criteria, [&](const CriterionResult& criterion) { return !marks_of(result, criterion).empty(); });
    paper.paragraph(marked ? set.machine_class + " looks at channels that need the finite size." : verdict(result, set),
                    Tone::plain, 2, 2);
  }
  return paper.take();
}

std::string run_text(const Result& result, const TextOptions& options) {
  Paper paper(options);
  Marks marks;
  paper.paragraph(result.coin + (result.construction.empty() ? "" : " (" + result.construction + ")"), Tone::strong);
  if (!result.note.empty()) paper.paragraph(result.note);
  paper.paragraph("Sensor: " + result.sensor);
  if (!result.windows.empty()) {
    accepted(paper, result, marks);
    criteria(paper, result, marks);
  }
  targets(paper, result);
  precision(paper, result);
  channels(paper, result, marks);
  bands(paper, result, marks);
  write_yield(paper, result);
  write_stages(paper, result);
  write_budgets(paper, result);
  closing(paper, result, marks);
  return paper.take();
}

}  // namespace mintspread::reports
