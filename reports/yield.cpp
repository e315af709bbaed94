#include "reports/yield.hpp"

#include <algorithm>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

using namespace study;

namespace {

std::string limits_of(const SortResult& sort) {
  CriterionResult limits{};
  limits.unit = sort.unit;
  limits.lower = sort.lower;
  limits.upper = sort.upper;
  return window_text(limits);
}

bool reworks(const SortResult& sort) { return sort.reworked.value > 0.0; }

}  // namespace

void write_yield(Paper& paper, const Result& result) {
  if (!result.yield) return;
  const YieldResult& yield = *result.yield;
  const Told finished = told_percent(yield.finished);
  paper.heading("Sorts in the route, %",
                count(yield.started) + " pieces started, " + count(yield.finished_pieces) + " finished, " +
                    percent(finished) +
                    (finished.lower.empty() ? "" : " (" + finished.lower + " .. " + finished.upper + ")") +
                    "; out at their first reading and reworks: of those that come to a sort, scrapped: of those "
                    "started; other figures are of finished pieces, shares and budgets of pieces "
                    "before sorting");
  TextTable table{{{"sort", Align::left}, {"reads", Align::left}, {"out"}, {"reworks"}, {"scrapped"}, {"±"}}, 1, {}};
  for (const auto& sort : yield.sorts) {
    const Told out = told_percent(sort.out), scrapped = told_percent(sort.scrapped);
    Figure again{100 * sort.reworked.value, {}, {}};
    if (const auto& of = sort.reworked.interval) again.interval = Interval{100 * of->lower, 100 * of->upper};
    table.rows.push_back({sort.name, sort.reads + ": " + limits_of(sort), out.value,
                          reworks(sort) ? told(again).value : "", scrapped.value, scrapped.half_width});
  }
  paper.table(table);
  if (yield.metals.empty()) return;
  paper.gap();
  TextTable metals{{{"bath", Align::left}, {"metal", Align::left}, {"kg for a million finished pieces"}, {"±"}}, 2, {}};
  for (const auto& metal : yield.metals) {
    const Told mass = told(metal.mass);
    metals.rows.push_back({metal.bath, metal.metal, mass.value, mass.half_width});
  }
  paper.table(metals);
  if (yield.metals.front().accepted.empty()) return;
  paper.gap();
  TextTable accepted{{{"kg for a million pieces accepted by", Align::left}}, 1, {}};
  for (const auto& set : result.windows) {
    accepted.columns.push_back({set.machine_class});
    accepted.columns.push_back({"±"});
  }
  for (const auto& metal : yield.metals) {
    accepted.rows.push_back({metal.bath});
    for (const Figure& figure : metal.accepted) {
      const Told mass = told(figure);
      accepted.rows.back().push_back(mass.value);
      accepted.rows.back().push_back(mass.half_width);
    }
  }
  paper.table(accepted);
}

PageTable yield_table(const Result& result) {
  const YieldResult& yield = *result.yield;
  const bool bands = yield.finished.band.has_value();
  PageTable table{"Sorts in the route; metal includes what is scrapped, stripped and pickled",
                  {"figure", "value", "95 % interval"},
                  {},
                  false};
  if (bands) table.columns.push_back("not known");
  table.groups.push_back(
      {"",
       {percent_row("finished, " + count(yield.finished_pieces) + " of the " + count(yield.started) + " pieces started",
                    yield.finished, bands)}});
  for (const auto& sort : yield.sorts) {
    RowGroup group{sort.name + ": " + sort.reads + ", " + typeset(limits_of(sort)), {}};
    group.rows.push_back(percent_row("out at the first reading", sort.out, bands));
    if (reworks(sort)) group.rows.push_back(figure_row("reworks for a piece", sort.reworked, bands));
    group.rows.push_back(percent_row("scrapped, of the pieces started", sort.scrapped, bands));
    table.groups.push_back(group);
  }
  RowGroup metals{"kg for a million finished pieces", {}};
  for (const auto& metal : yield.metals)
    metals.rows.push_back(figure_row(metal.bath + ", " + metal.metal, metal.mass, bands));
  if (metals.rows.empty()) return table;
  table.groups.push_back(metals);
  for (std::size_t w = 0; w < yield.metals.front().accepted.size(); ++w) {
    RowGroup accepted{"kg for a million pieces accepted by " + result.windows[w].machine_class, {}};
    for (const auto& metal : yield.metals)
      accepted.rows.push_back(figure_row(metal.bath + ", " + metal.metal, metal.accepted[w], bands));
    table.groups.push_back(accepted);
  }
  return table;
}

}  // namespace mintspread::reports
