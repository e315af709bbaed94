#include <algorithm>
#include <string>
#include <vector>

#include "engine/base/contract.hpp"
#include "reports/figure_overlay.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/page_content.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

// A, B, ..., Z, A2, B2, ...
std::string letter_of(std::size_t position) {
  std::string letter(1, static_cast<char>('A' + position % 26));
  return position < 26 ? letter : letter + std::to_string(position / 26 + 1);
}

bool any_band(std::span<const Result> results) {
  return std::any_of(results.begin(), results.end(), [](const Result& result) {
    return std::any_of(result.windows.begin(), result.windows.end(),
                       [](const auto& set) { return set.accepted.band.has_value(); });
  });
}

std::vector<std::string> classes_of(std::span<const Result> results) {
  std::vector<std::string> names;
  for (const auto& result : results) {
    for (const auto& set : result.windows) {
      if (std::find(names.begin(), names.end(), set.machine_class) == names.end()) names.push_back(set.machine_class);
    }
  }
  return names;
}

// How a coin is drawn and called among the others.
struct Look {
  std::string style, label;
};

// Coins of one name are states of one coin: one hue and dash, from light to dark in the order they stand in.
std::vector<Look> looks_of(std::span<const Result> results) {
  const auto name_of = [](const Result& result) {
    return result.state.empty() ? result.coin : result.coin.substr(0, result.coin.size() - result.state.size() - 2);
  };
  constexpr std::size_t hues = 6;
  std::vector<std::string> names;
  std::vector<Look> looks;
  for (std::size_t i = 0; i < results.size(); ++i) {
    const std::string name = name_of(results[i]);
    const auto known = std::find(names.begin(), names.end(), name);
    const auto hue = static_cast<std::size_t>(known - names.begin());
    std::size_t first = i, before = 0, states = 0;
    for (std::size_t j = 0; j < results.size(); ++j) {
      if (name_of(results[j]) == name) ++states, before += j < i ? 1 : 0, first = std::min(first, j);
    }
    Look look{"series series" + std::to_string(hue % hues + 1), results[i].coin};
    constexpr std::size_t shades = 4;
    if (states > 1) {
      look.style += " state" + std::to_string(1 + before * (shades - 1) / (states - 1));
      if (before > 0 && !results[i].state.empty()) look.label = "as " + letter_of(first) + ", " + results[i].state;
    }
    if (known == names.end()) names.push_back(name);
    looks.push_back(std::move(look));
  }
  return looks;
}

PageTable acceptance_table(std::span<const Result> results) {
  const auto looks = looks_of(results);
  const bool bands = any_band(results);
  PageTable table{"Accepted, every criterion", {"coin", "accepted", "95 % interval"}, {}, false};
  if (bands) table.columns.emplace_back("not known");
  table.columns.emplace_back("rejects most");
  for (const auto& name : classes_of(results)) {
    RowGroup group{name, {}};
    for (std::size_t i = 0; i < results.size(); ++i) {
      for (const auto& set : results[i].windows) {
        if (set.machine_class != name) continue;
        Row row = percent_row(letter_of(i) + " " + looks[i].label, set.accepted, bands);
        std::string most = "nothing";
        if (set.worst) {
          const auto& worst = set.criteria.at(*set.worst);
          most = worst.name + (marks_of(results[i], worst).empty() ? "" : " (marked)");
        }
        row.cells.push_back({{most, ""}});
        group.rows.push_back(row);
      }
    }
    table.groups.push_back(group);
  }
  return table;
}

PageTable channel_table(std::span<const Compared> coins) {
  const bool bands = std::any_of(coins.begin(), coins.end(),
                                 [](const auto& coin) { return coin.channel->reading.mean.band.has_value(); });
  PageTable table{"Figures of " + coins.front().channel->name, {"figure", "value", "95 % interval"}, {}, false};
  if (bands) table.columns.emplace_back("not known");
  for (const auto& coin : coins) {
    const Spread& s = coin.channel->reading;
    RowGroup group{coin.letter + " " + coin.result->coin, {}};
    if (s.pieces > 0) {
      group.rows = {figure_row("mean", s.mean, bands), figure_row("standard deviation", s.sd, bands)};
      for (const auto& q : s.quantiles)
        group.rows.push_back(figure_row(significant(100 * q.probability) + " % quantile", q.figure, bands));
    }
    const auto position = static_cast<std::size_t>(coin.channel - coin.result->channels.data());
    for (const auto& set : coin.result->windows) {
      for (const auto& criterion : set.criteria) {
        if (criterion.channel == position)
          group.rows.push_back(percent_row("accepted by " + set.machine_class, criterion.accepted, bands));
      }
    }
    if (!group.rows.empty()) table.groups.push_back(group);
  }
  return table;
}

double rejected(const Compared& coin) {
  const auto position = static_cast<std::size_t>(coin.channel - coin.result->channels.data());
  double most = 0.0;
  for (const auto& set : coin.result->windows) {
    for (const auto& criterion : set.criteria) {
      if (criterion.channel == position) most = std::max(most, 1.0 - criterion.accepted.value);
    }
  }
  return most;
}

// One sentence a class: what it accepts of each coin, then the intervals.
std::vector<Verdict> verdicts(std::span<const Result> results) {
  std::vector<Verdict> list;
  for (const auto& name : classes_of(results)) {
    std::vector<std::string> fractions, intervals;
    for (std::size_t i = 0; i < results.size(); ++i) {
      for (const auto& set : results[i].windows) {
        if (set.machine_class != name) continue;
        const Told text = told_percent(set.accepted);
        fractions.push_back(percent_words(text) + " of " + letter_of(i));
        if (!text.lower.empty()) intervals.push_back(letter_of(i) + " " + text.lower + " to " + text.upper + " %");
      }
    }
    Verdict one{name + " accepts " + list_of(fractions) + ".", "", "", {}, false};
    if (!intervals.empty()) one.limit = "95 % intervals: " + list_of(intervals) + ".";
    list.push_back(one);
  }
  return list;
}

// What one class says of the coins, as a thing to do: those it accepts most and least of are told apart, or are not.
std::string next_of(std::span<const Result> results, const std::string& name) {
  struct Seen {
    const Result* result;
    const WindowSetResult* set;
    std::string letter;
  };
  std::vector<Seen> seen;
  for (std::size_t i = 0; i < results.size(); ++i)
    for (const auto& set : results[i].windows)
      if (set.machine_class == name) seen.push_back({&results[i], &set, letter_of(i)});
  if (seen.size() < 2) return "";
  const auto [least, best] = std::minmax_element(seen.begin(), seen.end(), [](const Seen& a, const Seen& b) {
    return a.set->accepted.value < b.set->accepted.value;
  });
  const Figure &low = least->set->accepted, &high = best->set->accepted;
  if (low.value == high.value || !low.interval || !high.interval || low.interval->upper >= high.interval->lower)
    return "the coins are not told apart: simulate more of them (--coins), or take them as equal.";
  std::string text = best->letter + " is accepted most and " + least->letter + " least";
  if (low.band && high.band && low.band->upper >= high.band->lower)
    return text + ", but what is not known moves them by more than that: measure it before choosing.";
  if (!least->set->worst) return text + ".";
  const auto& worst = least->set->criteria.at(*least->set->worst);
  if (!marks_of(*least->result, worst).empty())
    return text + " by " + worst.name + ", which is known to be wrong here: measure it on real pieces before choosing.";
  return text + ", where " + worst.name + " rejects most: take " + best->letter + ", or bring " + worst.name + " of " +
         least->letter + " into its window.";
}

std::vector<std::string> next_steps_of(std::span<const Result> results) {
  std::vector<std::string> steps;
  if (std::any_of(results.begin(), results.end(), [&](const Result& r) { return r.sensor != results.front().sensor; }))
    steps.push_back("Have all coins read by one sensor before comparing them.");
  // What several classes say alike is told once.
  std::vector<std::pair<std::string, std::vector<std::string>>> told;
  const auto classes = classes_of(results);
  for (const auto& name : classes) {
    const std::string step = next_of(results, name);
    if (step.empty()) continue;
    auto same = std::find_if(told.begin(), told.end(), [&](const auto& one) { return one.first == step; });
    if (same == told.end()) same = told.insert(told.end(), {step, {}});
    same->second.push_back(name);
  }
  for (const auto& [step, names] : told) steps.push_back("For " + list_of(names) + ": " + step);
  if (classes.empty())
    steps.push_back("Give the specifications windows: without them no coin is accepted or rejected.");
  steps.push_back("What limits a coin, and what to do about it, stands on its own page: run it alone.");
  return steps;
}

// Channels of one name and unit belong together; the one that rejects most in any coin comes first.
std::vector<std::vector<Compared>> channels_of(std::span<const Result> results) {
  std::vector<std::vector<Compared>> groups;
  const auto looks = looks_of(results);
  for (std::size_t i = 0; i < results.size(); ++i) {
    for (const auto& channel : results[i].channels) {
      const auto same = [&](const auto& group) {
        return group.front().channel->name == channel.name && group.front().channel->unit == channel.unit;
      };
      auto group = std::find_if(groups.begin(), groups.end(), same);
      if (group == groups.end()) group = groups.insert(groups.end(), std::vector<Compared>{});
      group->push_back({&results[i], &channel, letter_of(i), looks[i].style, looks[i].label});
    }
  }
  const auto most = [](const auto& group) {
    double rejects = 0.0;
    for (const auto& coin : group) rejects = std::max(rejects, rejected(coin));
    return rejects;
  };
  std::stable_sort(groups.begin(), groups.end(), [&](const auto& a, const auto& b) { return most(a) > most(b); });
  return groups;
}

}  // namespace

PageContent comparison_content(std::span<const Result> results, Times times) {
  expect(!results.empty(), "a comparison has results to compare");
  PageContent content;
  content.coin = results.size() == 1 ? "1 coin" : std::to_string(results.size()) + " coins compared";
  content.title = content.coin + ": production spread and acceptance";
  content.what = "Production spread and acceptance, read by " + results.front().sensor;
  std::vector<std::string> names;
  const auto looks = looks_of(results);
  for (std::size_t i = 0; i < results.size(); ++i) names.push_back(letter_of(i) + ": " + looks[i].label);
  for (std::size_t i = 0; i < names.size(); ++i) content.note += names[i] + (i + 1 < names.size() ? "; " : ".");
  content.verdicts = verdicts(results);
  for (std::size_t i = 0; i < results.size(); ++i) {
    const Result& result = results[i];
    content.rests.push_back(letter_of(i) + " " + result.coin +
                            (result.construction.empty() ? "" : ", " + result.construction) + ": " +
                            count(result.provenance.pieces, "\u202f") + " computed pieces, " +
                            result.provenance.design + ". A reading includes " + included(result).reading + ".");
    for (const auto& warning : result.warnings) content.warnings.push_back(letter_of(i) + ": " + warning);
    if (result.sensor != results.front().sensor) {
      content.warnings.push_back(letter_of(i) + " was read by another sensor, " + result.sensor +
                                 ": its channels are not comparable.");
    }
  }
  content.rests.push_back("Differences between coins are told by their separate intervals.");
  content.next = next_steps_of(results);
  content.uncovered = not_covered(results.front());

  const bool shaded = std::any_of(looks.begin(), looks.end(),
                                  [](const Look& look) { return look.style.find("state") != std::string::npos; });
  content.figures.push_back({"accepted", "Accepted", "", {}, {{"", "", acceptance_table(results)}}});
  std::size_t position = 0;
  for (const auto& group : channels_of(results)) {
    const std::string id = "c" + std::to_string(++position);
    std::vector<std::string> marks;
    for (const auto& coin : group) {
      for (const auto& mark : coin.channel->marks) marks.push_back(coin.letter + ", " + mark);
    }
    const auto& channel = *group.front().channel;
    PageFigure figure{id, channel.name + (channel.kind == channel.name ? "" : ": " + channel.kind), "", marks, {}};
    figure.panels.push_back(
        {draw_overlay(group, id + "-f"),
         std::string("Readings, everything included, each curve to one height. Line under the curves: 99.73 % of "
                     "readings, thick 95 %, stroke the "
                     "median.") +
             (shaded ? " States of one coin have one hue, from faint to strong in the order given." : ""),
         channel_table(group)});
    content.figures.push_back(std::move(figure));
  }
  for (std::size_t i = 0; i < results.size(); ++i) {
    const auto& p = results[i].provenance;
    content.record.emplace_back(
        letter_of(i) + " " + results[i].coin,
        p.specification_file + ", SHA-256 " + p.specification_hash + ", seed " + std::to_string(p.seed) +
            (times == Times::keep && p.threads > 0 ? ", " + significant(p.seconds, 3) + " s" : ""));
  }
  content.record.emplace_back("Program", "mintspread " + results.front().provenance.engine_version + ", " +
                                             results.front().provenance.model_version);
  content.cautions = cautions();
  return content;
}

}  // namespace mintspread::reports
