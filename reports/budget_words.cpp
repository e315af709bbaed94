#include "reports/budget_words.hpp"

#include <algorithm>
#include <cmath>

#include "reports/fields.hpp"
#include "reports/numbers.hpp"

namespace mintspread::reports {

using namespace study;

namespace {

constexpr int digits = 3;  // linear estimates: no interval says how far they hold

}  // namespace

std::string entry_spread(const Result& result, const BudgetEntry& entry) {
  const InputResult& input = result.inputs.at(entry.input);
  const std::string number = significant(input.unit.spread_from_si(entry.spread), digits);
  return input.unit.name.empty() ? number : number + " " + input.unit.name;
}

std::string entry_sensitivity(const Result& result, const ChannelResult& channel, const BudgetEntry& entry) {
  const InputResult& input = result.inputs.at(entry.input);
  std::string text = significant(entry.sensitivity.value * input.unit.scale, digits);
  if (!channel.unit.empty()) text += " " + channel.unit;
  return text + " per " + (input.unit.name.empty() ? "1" : input.unit.name);
}

std::size_t told_entries(const Result& result, const ChannelResult& channel) {
  const bool windowed = std::any_of(result.windows.begin(), result.windows.end(), [&](const auto& set) {
    return std::any_of(set.criteria.begin(), set.criteria.end(), [&](const auto& criterion) {
      return criterion.channel && &result.channels.at(*criterion.channel) == &channel;
    });
  });
  constexpr std::size_t at_least = 3;
  const double least = windowed ? 0.15 : 1.0 / 3.0;
  std::size_t told = 0;
  for (const auto& entry : channel.budget->entries) {
    if (told >= at_least && entry.contribution.value < least * channel.budget->entries.front().contribution.value)
      break;
    ++told;
  }
  return told;
}

std::vector<const Share*> told_shares(const ChannelResult& channel) {
  constexpr double least = 0.05;
  std::vector<const Share*> list;
  for (const auto& share : channel.shares) {
    if (!(share.total.value < least)) list.push_back(&share);
  }
  return list;
}

std::vector<const LotComponent*> told_components(const LotChannel& channel) {
  constexpr double least = 0.02;
  double variance = 0.0;
  for (const auto& component : channel.components) variance += component.sd.value * std::abs(component.sd.value);
  std::vector<const LotComponent*> list;
  for (const auto& component : channel.components) {
    if (!(component.sd.value * component.sd.value < least * variance)) list.push_back(&component);
  }
  return list;
}

std::string kind_word(ShareKind kind) { return std::string(share_kinds.at(static_cast<std::size_t>(kind))); }

Figure in_percent(const Figure& share) {
  Figure scaled{100.0 * share.value, {}, {}};
  if (share.interval) scaled.interval = Interval{100.0 * share.interval->lower, 100.0 * share.interval->upper};
  return scaled;
}

std::string use_words(const WindowUse& use) {
  std::string text;
  const auto add = [&](const std::string& name, double part) {
    text += (text.empty() ? "" : ", ") + name + " " + significant(part, digits);
  };
  if (use.off_centre.value > 0.0) add("off centre", use.off_centre.value);
  for (const auto& level : use.levels) add(level.name, level.part.value);
  if (use.not_known > 0.0) add("not known", use.not_known);
  add("left", use.left.value);
  return text;
}

}  // namespace mintspread::reports
