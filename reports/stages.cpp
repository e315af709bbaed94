#include "reports/stages.hpp"

#include <algorithm>
#include <cmath>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

using namespace study;

namespace {

/// On a page, which is to stay small.
constexpr double told_correlation = 0.2;

std::string name_of(const StageResult& stage) { return stage.name + ": " + stage.reads; }

bool all_of(const AcceptedWhere& where) { return !std::isfinite(where.lower) && !std::isfinite(where.upper); }

std::string range_of(const AcceptedWhere& where, const std::string& unit) {
  CriterionResult limits{};
  limits.unit = unit;
  limits.lower = std::isfinite(where.lower) ? std::stod(significant(where.lower, 6)) : where.lower;
  limits.upper = std::isfinite(where.upper) ? std::stod(significant(where.upper, 6)) : where.upper;
  return window_text(limits);
}

std::string at_least(double fraction) { return ">= " + significant(100.0 * fraction, 6) + " %"; }

bool targeted(const StagesResult& stages) {
  return std::ranges::any_of(stages.quantities, [](const StageResult& stage) {
    return std::ranges::any_of(stage.windows, [](const StageWindow& w) { return w.at_least.has_value(); });
  });
}

void write_correlations(Paper& paper, const Result& result) {
  TextTable table{{{"read or known", Align::left}}, 1, {}};
  for (const auto& channel : result.channels) {
    table.columns.push_back({channel.name, Align::right, false, true});
    table.columns.push_back({"±"});
  }
  for (const auto& stage : result.stages->quantities) {
    auto& row = table.rows.emplace_back(std::vector<std::string>{name_of(stage)});
    for (const Figure& figure : stage.correlations) {
      const Told correlation = told(figure);
      row.push_back(correlation.value);
      row.push_back(correlation.half_width);
    }
  }
  paper.table(table);
}

void write_windows(Paper& paper, const StagesResult& stages) {
  TextTable table{{{"read or known", Align::left},
                   {"target", Align::left},
                   {"secured by", Align::left},
                   {"keeps, %"},
                   {"±"},
                   {"accepted, %"},
                   {"±"}},
                  1,
                  {}};
  for (const auto& stage : stages.quantities) {
    for (const auto& window : stage.windows) {
      if (!window.at_least) continue;
      auto& row = table.rows.emplace_back(
          std::vector<std::string>{name_of(stage), window.machine_class + " " + at_least(*window.at_least)});
      if (!window.secures) {
        row.insert(row.end(), {"no window", "", "", "", ""});
        continue;
      }
      const Told kept = told_percent(window.secures->pieces), accepted = told_percent(window.secures->accepted);
      const std::string range = all_of(*window.secures) ? "any reading" : range_of(*window.secures, stage.unit);
      row.insert(row.end(), {range, kept.value, kept.half_width, accepted.value, accepted.half_width});
    }
  }
  paper.table(table);
}

/// Of readings, not of the blanks' own quantities: files have all.
void write_cells(Paper& paper, const StageResult& stage) {
  TextTable table{{{name_of(stage), Align::left}}, 1, {}};
  for (const auto& window : stage.windows) {
    table.columns.push_back({"accepted by " + window.machine_class + ", %", Align::right, false, true});
    table.columns.push_back({"±"});
  }
  for (std::size_t c = 0; c < stage.windows.front().cells.size(); ++c) {
    auto& row = table.rows.emplace_back(std::vector<std::string>{range_of(stage.windows.front().cells[c], stage.unit)});
    for (const auto& window : stage.windows) {
      const Told accepted = told_percent(window.cells[c].accepted);
      row.push_back(accepted.value);
      row.push_back(accepted.half_width);
    }
  }
  paper.table(table);
}

}  // namespace

void write_stages(Paper& paper, const Result& result) {
  if (!result.stages || result.stages->quantities.empty()) return;
  const StagesResult& stages = *result.stages;
  paper.heading("Readings on the way and the finished coin",
                "of finished pieces; correlations with the reading of each channel, their intervals: " + stages.method);
  write_correlations(paper, result);
  if (result.windows.empty()) return;
  for (const auto& stage : stages.quantities) {
    if (stage.name == "blank" || stage.windows.empty() || stage.windows.front().cells.size() < 2) continue;
    paper.gap();
    write_cells(paper, stage);
  }
  paper.gap();
  if (targeted(stages))
    write_windows(paper, stages);
  else
    paper.paragraph("No target is stated, so no window is told that would secure one.", Tone::plain, 2, 2);
}

PageTable stages_table(const Result& result) {
  const StagesResult& stages = *result.stages;
  const auto has_band = [](const StageResult& stage) {
    return std::ranges::any_of(stage.correlations, [](const Figure& f) { return f.band.has_value(); });
  };
  const bool bands = std::ranges::any_of(stages.quantities, has_band);
  PageTable table{"Correlations with channels of the finished coin from " + significant(told_correlation) +
                      " on (the files have all), and the window that secures a target",
                  {"figure", "value", "95 % interval"},
                  {},
                  false};
  if (bands) table.columns.push_back("not known");
  for (const auto& stage : stages.quantities) {
    RowGroup group{name_of(stage), {}};
    for (std::size_t c = 0; c < stage.correlations.size(); ++c)
      if (std::abs(stage.correlations[c].value) >= told_correlation)
        group.rows.push_back(figure_row("correlation with " + result.channels[c].name, stage.correlations[c], bands));
    for (const auto& window : stage.windows) {
      if (!window.at_least) continue;
      const std::string target = window.machine_class + " " + at_least(*window.at_least);
      if (!window.secures) {
        Row none{target + ": no window secures it", {}};
        none.cells.resize(table.columns.size() - 1);
        group.rows.push_back(none);
        continue;
      }
      if (all_of(*window.secures)) {
        group.rows.push_back(percent_row(target + ": without a window", window.secures->accepted, bands));
        continue;
      }
      const std::string range = typeset(range_of(*window.secures, stage.unit));
      group.rows.push_back(percent_row(target + ": " + range + " keeps", window.secures->pieces, bands));
      group.rows.push_back(percent_row("accepted of these", window.secures->accepted, bands));
    }
    if (!group.rows.empty()) table.groups.push_back(group);
  }
  return table;
}

}  // namespace mintspread::reports
