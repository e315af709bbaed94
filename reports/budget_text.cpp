#include "reports/budget_text.hpp"

#include <algorithm>
#include <string>
#include <vector>

#include "reports/budget_words.hpp"
#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr std::size_t told_entries = 5;
constexpr int digits = 3;

void budgets(Paper& paper, const Result& result) {
  TextTable table{{{"channel", Align::left},
                   {"quantity", Align::left},
                   {"spread"},
                   {"sensitivity"},
                   {"causes sd"},
                   {"varies by; basis", Align::left, true}},
                  2,
                  {}};
  for (const auto& channel : result.channels) {
    if (!channel.budget) continue;
    const auto& entries = channel.budget->entries;
    for (std::size_t i = 0; i < std::min(entries.size(), told_entries); ++i) {
      const InputResult& input = result.inputs.at(entries[i].input);
      table.rows.push_back({i == 0 ? channel.name : "", input.path, entry_spread(result, entries[i]),
                            entry_sensitivity(result, channel, entries[i]),
                            significant(entries[i].contribution.value, digits), input.level + "; " + input.basis});
    }
  }
  if (table.rows.empty()) return;
  paper.heading("What spreads the readings",
                "linear about the nominal coin, the " + std::to_string(told_entries) + " largest of each channel");
  paper.table(table);
  TextTable stack{{{"channel", Align::left},
                   {"unit", Align::left},
                   {"worst case"},
                   {"root sum of squares"},
                   {"3 sd of the reading"}},
                  2,
                  {}};
  for (const auto& channel : result.channels) {
    if (!channel.budget || channel.budget->entries.empty()) continue;
    stack.rows.push_back({channel.name, channel.unit, significant(channel.budget->worst_case.value, digits),
                          significant(channel.budget->root_sum_square.value, digits),
                          significant(3.0 * channel.reading.sd.value, digits)});
  }
  if (stack.rows.empty()) return;
  paper.heading("Tolerances stacked");
  paper.table(stack);
}

void window_use(Paper& paper, const Result& result) {
  TextTable table{
      {{"class", Align::left}, {"criterion", Align::left}, {"half"}, {"left"}, {"used by", Align::left, true}}, 2, {}};
  for (const auto& set : result.windows) {
    for (const auto& criterion : set.criteria) {
      if (!criterion.use) continue;
      std::string words = use_words(*criterion.use);
      words.erase(std::min(words.size(), words.rfind("left ") == 0 ? 0 : words.rfind(", left ")));
      table.rows.push_back({set.machine_class, criterion.name, significant(criterion.use->half_width, digits),
                            significant(criterion.use->left.value, digits), words});
    }
  }
  if (table.rows.empty()) return;
  paper.heading("Use of half of each window",
                "in the channel's unit; levels share three standard deviations of the reading");
  paper.table(table);
}

void shares(Paper& paper, const Result& result) {
  TextTable table{{{"channel", Align::left}, {"share", Align::left}, {"alone"}, {"±"}, {"total"}, {"±"}}, 2, {}};
  std::size_t left_out = 0;
  for (const auto& channel : result.channels) {
    std::string name = channel.name;
    const auto list = told_shares(channel);
    left_out += channel.shares.size() - list.size();
    for (const Share* share : list) {
      const Told alone = told(in_percent(share->first_order)), total = told(in_percent(share->total));
      table.rows.push_back({name, kind_word(share->kind) + " " + share->name, alone.value, alone.half_width,
                            total.value, total.half_width});
      name.clear();
    }
  }
  if (table.rows.empty()) return;
  std::string note =
      "alone and in total, with interactions; ± half-width of the 95 % interval; a negative share is sampling error";
  if (left_out > 0) note += "; " + count(left_out) + " below 5 % in total are left to the files";
  paper.heading("Shares of variance, %", note);
  paper.table(table);
}

void lots(Paper& paper, const LotResult& lots) {
  paper.heading("Lots", count(lots.lots) + " times " + lots.lot + ", " + count(lots.pieces_a_lot) +
                            " pieces looked at in each; intervals count lots");
  TextTable table{{{"class", Align::left}, {"of a lot", Align::left}, {"%"}, {"95 % interval"}}, 2, {}};
  const auto add = [&](const std::string& name, const std::string& what, const Figure& figure) {
    const Told text = told_percent(figure);
    table.rows.push_back({name, what, text.value, text.lower.empty() ? "" : text.lower + " .. " + text.upper});
  };
  for (const auto& window : lots.windows) {
    add(window.machine_class, "mean rejected", window.mean_rejected);
    for (const auto& q : window.rejected)
      add("", significant(100 * q.probability) + " % of lots reject at most", q.figure);
    for (const auto& chance : window.chances)
      add("", "chance of more than " + significant(100 * chance.rate) + " %", chance.chance);
  }
  paper.table(table);
  std::size_t left_out = 0;
  TextTable levels{{{"channel", Align::left}, {"level", Align::left}, {"sd"}, {"±"}}, 2, {}};
  for (const auto& channel : lots.channels) {
    std::string name = channel.name;
    const auto list = told_components(channel);
    left_out += channel.components.size() - list.size();
    for (const LotComponent* component : list) {
      const Told text = told(component->sd);
      levels.rows.push_back({name, component->name, text.value, text.half_width});
      name.clear();
    }
    if (list.empty()) levels.rows.push_back({name, "does not vary"});
  }
  if (levels.rows.empty()) return;
  paper.gap();
  paper.table(levels);
  if (left_out > 0)
    paper.paragraph(count(left_out) + " below 2 % of their channel's variance are left to the files", Tone::plain, 2,
                    2);
}

}  // namespace

void write_budgets(Paper& paper, const Result& result) {
  window_use(paper, result);
  budgets(paper, result);
  shares(paper, result);
  if (result.lots) lots(paper, *result.lots);
}

}  // namespace mintspread::reports
