#include <algorithm>

#include "reports/budget_words.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/page_table.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr int digits = 3;

// "12.7 (12.1 to 13.0)", with the band where it shows at these digits.
Cell with_band(const Figure& figure) {
  const Part value = number(significant(figure.value, digits), figure.value);
  if (!figure.band) return {value};
  const std::string lower = significant(figure.band->lower, digits), upper = significant(figure.band->upper, digits);
  if (lower == upper) return {value};
  return {value,    {" (", ""}, number(lower, figure.band->lower), {" to ", ""}, number(upper, figure.band->upper),
          {")", ""}};
}

Part scaled(double value, double scale) {
  Part part = number(significant(value * scale, digits), value);
  if (scale != 1.0) part.scale = shortest(scale);
  return part;
}

Part plain(double value) { return number(significant(value, digits), value); }

std::string about(const InputResult& input) {
  std::string text = input.path;
  if (!input.level.empty()) text += ", per " + input.level;
  if (!input.basis.empty() && input.basis != "unstated") text += ", " + input.basis;
  return text;
}

// "56.1 % (55.3 to 56.9)"
Cell share_cell(const Figure& share) {
  const Told text = told(in_percent(share));
  Cell cell{number(with_percent(text.value), share.value)};
  if (share.interval) {
    cell.push_back({" (", ""});
    cell.push_back(number(with_percent(text.lower), share.interval->lower));
    cell.push_back({" to ", ""});
    cell.push_back(number(with_percent(text.upper), share.interval->upper));
    cell.push_back({")", ""});
  }
  return cell;
}

}  // namespace

PageTable budget_table(const Result& result, const ChannelResult& channel) {
  PageTable table{
      "What spreads " + channel.name + (channel.unit.empty() ? "" : ", in " + typeset(channel.unit)) +
          ": spreads as stated, effects linear about the nominal coin, both without a sampling error; in brackets the "
          "range over what is not known",
      {"quantity", "spread", "sensitivity", "contribution"},
      {},
      false};
  if (!channel.budget) return table;
  const auto close = [&](Row& row, const Figure& figure) { row.cells.push_back(with_band(figure)); };
  RowGroup entries{"", {}};
  const std::size_t told = told_entries(result, channel), all = channel.budget->entries.size();
  for (std::size_t i = 0; i < told; ++i) {
    const auto& entry = channel.budget->entries[i];
    const InputResult& input = result.inputs.at(entry.input);
    const std::string input_unit = typeset(input.unit.name);
    Row row{about(input), {}};
    row.cells.push_back(
        {scaled(entry.spread, 1.0 / input.unit.scale), {input_unit.empty() ? "" : " " + input_unit, ""}});
    row.cells.push_back(
        {scaled(entry.sensitivity.value, input.unit.scale), {" per " + (input_unit.empty() ? "1" : input_unit), ""}});
    close(row, entry.contribution);
    entries.rows.push_back(row);
  }
  if (told < all) {
    // The one that comes next is the largest of the rest.
    Row row{std::to_string(all - told) + (all - told == 1 ? " smaller one" : " smaller ones, each up to"), {{}, {}}};
    close(row, channel.budget->entries[told].contribution);
    entries.rows.push_back(row);
  }
  table.groups.push_back(entries);
  RowGroup stack{"Tolerances stacked", {}};
  for (const auto& [name, figure] : {std::pair{"worst case", &channel.budget->worst_case},
                                     {"root of the sum of squares", &channel.budget->root_sum_square}}) {
    Row row{name, {{}, {}}};
    close(row, *figure);
    stack.rows.push_back(row);
  }
  table.groups.push_back(stack);
  return table;
}

namespace {

// A figure and its ranges to two digits.
Row brief_row(const std::string& label, const Figure& figure) {
  const auto brief = [](double value) { return number(significant(value, 2), value); };
  Row row{label, {{brief(figure.value)}, {}, {}}};
  if (figure.interval) row.cells[1] = {brief(figure.interval->lower), {" to ", ""}, brief(figure.interval->upper)};
  if (figure.band) row.cells[2] = {brief(figure.band->lower), {" to ", ""}, brief(figure.band->upper)};
  return row;
}

}  // namespace

PageTable window_use_table(const Result& result, const Subject& subject) {
  PageTable table{
      "Use of half of each window of " + subject.name + (subject.unit.empty() ? "" : ", in " + typeset(subject.unit)),
      {"part", "value", "95 % interval"},
      {},
      false};
  std::vector<std::pair<const WindowSetResult*, const WindowUse*>> uses;
  bool bands = false;
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    if (const auto& use = set.criteria[window.criterion].use) {
      uses.emplace_back(&set, &*use);
      bands = bands || use->off_centre.band.has_value();
    }
  }
  if (uses.empty()) return table;
  if (bands) table.columns.emplace_back("not known");
  const auto unsampled = [&](const std::string& name, double size, const char* why) {
    return Row{name, std::vector<Cell>{{plain(size)}, {{why, ""}}, {}}};
  };
  // Levels share three standard deviations of the reading, whatever the window.
  RowGroup every{"Every class: three standard deviations by level, and what is not known", {}};
  for (const auto& level : uses.front().second->levels) {
    // Digits of what is next to nothing would widen the table and tell nothing.
    const bool tiny = level.part.value < 1e-3 * uses.front().second->half_width;
    every.rows.push_back(tiny ? brief_row(level.name, level.part) : figure_row(level.name, level.part, bands));
  }
  every.rows.push_back(unsampled("not known", uses.front().second->not_known, "a range over draws"));
  table.groups.push_back(every);
  for (const auto& [set, use] : uses) {
    table.groups.push_back({set->machine_class,
                            {unsampled("half of the window", use->half_width, "as stated"),
                             figure_row("off centre", use->off_centre, bands), figure_row("left", use->left, bands)}});
  }
  for (auto& group : table.groups) {
    for (auto& row : group.rows) row.cells.resize(bands ? 3 : 2);
  }
  return table;
}

PageTable shares_table(const ChannelResult& channel) {
  PageTable table{"Shares of the variance of " + channel.name + ", with 95 % intervals",
                  {"share", "alone", "with interactions"},
                  {},
                  false};
  const auto told = told_shares(channel);
  for (const auto* share : told) {
    const std::string kind = "by " + kind_word(share->kind);
    if (table.groups.empty() || table.groups.back().heading != kind) table.groups.push_back({kind, {}});
    table.groups.back().rows.push_back({share->name, {share_cell(share->first_order), share_cell(share->total)}});
  }
  if (const std::size_t left_out = channel.shares.size() - told.size(); left_out > 0)
    table.caption += "; " + std::to_string(left_out) + " below 5 % left out";
  return table;
}

namespace {

// Where lots at this place reject all, or nothing, that is their fraction and no bound from what was seen.
Row quantile_row(const Quantile& q) {
  Row row = percent_row(significant(100 * q.probability) + " % of the lots reject at most", q.figure, false);
  const auto& interval = q.figure.interval;
  if (interval && interval->lower == interval->upper && (q.figure.value == 0.0 || q.figure.value == 1.0))
    row.cells[0] = {number(q.figure.value == 0.0 ? "none" : "all", q.figure.value)};
  return row;
}

// Rates that no lot of the run exceeded, or that all did, are told once: the lowest or the highest stands for them.
std::vector<Row> chance_rows(const std::vector<LotChance>& chances) {
  std::vector<Row> rows;
  for (std::size_t i = 0; i < chances.size(); ++i) {
    const double value = chances[i].chance.value;
    const bool stands_for_lower = value == 1.0 && i > 0 && chances[i - 1].chance.value == 1.0;
    const bool stands_for_higher = value == 0.0 && i + 1 < chances.size();
    if (value == 1.0 && i + 1 < chances.size() && chances[i + 1].chance.value == 1.0) continue;
    if (value == 0.0 && i > 0 && chances[i - 1].chance.value == 0.0) continue;
    rows.push_back(percent_row("chance of more than " + significant(100 * chances[i].rate) + " %" +
                                   (stands_for_lower    ? ", so of any less"
                                    : stands_for_higher ? ", so of any more"
                                                        : ""),
                               chances[i].chance, false));
  }
  return rows;
}

}  // namespace

PageTable lots_table(const LotResult& lots) {
  PageTable table{"Fraction of a " + lots.lot + " that is rejected", {"figure", "value", "95 % interval"}, {}, false};
  for (const auto& window : lots.windows) {
    RowGroup group{window.machine_class, {percent_row("mean", window.mean_rejected, false)}};
    for (const auto& q : window.rejected) group.rows.push_back(quantile_row(q));
    for (auto& row : chance_rows(window.chances)) group.rows.push_back(std::move(row));
    table.groups.push_back(group);
  }
  return table;
}

PageTable lot_components_table(const LotResult& lots) {
  PageTable table{
      "Standard deviation by level, from 2 % of the variance on", {"level", "value", "95 % interval"}, {}, false};
  for (const auto& channel : lots.channels) {
    RowGroup group{channel.name, {}};
    for (const LotComponent* component : told_components(channel))
      group.rows.push_back(figure_row(component->name, component->sd, false));
    if (group.rows.empty()) group.rows.push_back({"does not vary", {{}, {}}});
    table.groups.push_back(group);
  }
  return table;
}

}  // namespace mintspread::reports
