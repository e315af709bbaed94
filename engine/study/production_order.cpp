#include "engine/study/production_order.hpp"

#include <algorithm>
#include <cmath>
#include <numeric>

#include "engine/sampling/draws.hpp"

namespace mintspread::study {

std::optional<std::size_t> group_position(const std::vector<Group>& groups, const std::string& name) {
  const auto found = std::ranges::find(groups, name, &Group::name);
  if (name.empty() || found == groups.end()) return std::nullopt;
  return static_cast<std::size_t>(found - groups.begin());
}

std::vector<std::string> circle_of(const std::vector<Group>& groups) {
  for (const Group& start : groups) {
    std::vector<std::string> way{start.name};
    for (const Group* at = &start;;) {
      const auto next = group_position(groups, at->from.empty() ? at->mixes : at->from);
      if (!next) break;
      at = &groups[*next];
      way.push_back(at->name);
      if (at == &start) return way;
      if (way.size() > groups.size() + 1) break;  // a circle further on, which begins with another group
    }
  }
  return {};
}

namespace {

std::string listed(const std::vector<std::string>& way) {
  std::string text;
  for (const auto& name : way) text += (text.empty() ? "'" : ", '") + name + "'";
  return text;
}

}  // namespace

ProductionOrder::ProductionOrder(const std::vector<Group>& groups, std::vector<Problem>& problems)
    : groups_(groups), family_of_(groups.size()) {
  std::iota(family_of_.begin(), family_of_.end(), std::size_t{0});
  families_.resize(groups.size());
  if (const auto way = circle_of(groups); !way.empty()) {
    problems.push_back({"groups." + way.front(), "the groups " + listed(way) + " form a circle",
                        "mend `from` or `mixes` of one of them"});
    return;
  }
  for (std::size_t pass = 0; pass < groups.size(); ++pass) {
    for (std::size_t g = 0; g < groups.size(); ++g) {
      const auto parent = group_position(groups, groups[g].from);
      if (!parent) continue;
      family_of_[g] = family_of_[*parent] = std::min(family_of_[g], family_of_[*parent]);
    }
  }
  for (std::size_t g = 0; g < groups.size(); ++g) {
    const auto mixed = group_position(groups, groups[g].mixes);
    reach_ += groups[g].pieces * std::max<std::uint64_t>(1, groups[g].in_turn);
    if (!mixed) continue;
    reach_ += groups[g].mixed_units * groups[*mixed].pieces;
    Family& family = families_[family_of_[*mixed]];
    if (family.mixer || family_of_[g] == family_of_[*mixed]) {
      const std::string other = family.mixer ? groups[*family.mixer].name : groups[g].name;
      problems.push_back(
          {"groups." + groups[g].name + ".mixes",
           "the order of '" + groups[*mixed].name + "' and of what it is part of is mixed by '" + other + "' already",
           "mix the units of '" + other + "', or one group only"});
      return;
    }
    family.mixer = g;
    family.mixed = *mixed;
  }
  // Families can form a circle where no groups do: each of two mixes a part of the other.
  for (std::size_t f = 0; f < families_.size(); ++f) {
    std::size_t at = f, steps = 0;
    while (families_[at].mixer && steps <= families_.size()) at = family_of_[*families_[at].mixer], ++steps;
    if (steps <= families_.size()) continue;
    const std::string& mixer = groups[*families_[f].mixer].name;
    problems.push_back({"groups." + mixer,
                        "'" + mixer + "' mixes '" + groups[families_[f].mixed].name +
                            "', whose pieces come in an order that depends on '" + mixer + "'",
                        "mend `from` or `mixes` of one of them"});
    return;
  }
}

void ProductionOrder::places(std::uint64_t seed, std::size_t level, std::uint64_t first,
                             std::span<std::uint64_t> out) const {
  const Family& family = families_[family_of_[level]];
  if (!family.mixer) {
    std::iota(out.begin(), out.end(), first);
    return;
  }
  places(seed, *family.mixer, first, out);
  const Group& mixer = groups_[*family.mixer];
  const std::uint64_t units = mixer.mixed_units, pieces = groups_[family.mixed].pieces;
  const std::uint64_t address = sampling::address_of("groups." + mixer.name + ".mixes", 0);
  for (std::size_t i = 0; i < out.size(); ++i) {
    const std::uint64_t block = out[i] / (units * pieces), within = out[i] % (units * pieces);
    const double u = sampling::uniform(seed, address, 0, first + i);
    const auto side = static_cast<std::uint64_t>(u * static_cast<double>(units));
    out[i] = (block * units + std::min(side, units - 1)) * pieces + within / units;
  }
}

std::uint64_t ProductionOrder::unit_at(std::uint64_t plant, std::size_t level, std::uint64_t place) const {
  const Group& group = groups_[level];
  const std::uint64_t unit = place / group.pieces;
  return group.in_turn == 0 ? unit : plant * group.in_turn + unit % group.in_turn;
}

void ProductionOrder::units(std::uint64_t seed, std::uint64_t plant, std::size_t level, std::uint64_t first,
                            std::span<std::uint64_t> out) const {
  places(seed, level, first, out);
  for (std::uint64_t& value : out) value = unit_at(plant, level, value);
}

}  // namespace mintspread::study
