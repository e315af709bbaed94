#include "engine/study/shares.hpp"

#include <algorithm>
#include <bit>
#include <cmath>
#include <set>
#include <utility>

#include "engine/statistics/variance_shares.hpp"
#include "engine/study/parallel.hpp"

namespace mintspread::study {

namespace {

constexpr std::size_t replicates = 16;
constexpr double confidence = 0.95;
constexpr const char* conditions_step = "conditions";
constexpr const char* noise_step = "noise";

/// Factors that are swapped together, and the side of the coin, which counts as a factor after all others.
struct FactorSet {
  ShareKind kind;
  std::string name;
  std::set<std::size_t> factors;
};

/// A drift stands apart from what varies at its level by chance.
std::string source_of_spread(const ProductionModel& model, const Factor& factor) {
  if (!factor.drift) return model.groups[factor.level].name;
  const std::string campaign = model.groups[factor.drift->level].name;
  return "drift over " + (factor.drift->units == 1 ? "" : std::to_string(factor.drift->units) + " ") + campaign;
}

std::string step_of(const Input& input) {
  if (input.path.starts_with("sensor.channels.")) return noise_step;
  if (input.path.starts_with("sensor.")) return conditions_step;
  return input.step;
}

FactorSet& group_named(std::vector<FactorSet>& groups, ShareKind kind, const std::string& name) {
  const auto known = std::ranges::find_if(groups, [&](const FactorSet& g) { return g.kind == kind && g.name == name; });
  if (known != groups.end()) return *known;
  return groups.emplace_back(FactorSet{kind, name, {}});
}

/// Groups that share correlated factors with others of their kind become one, named by all of them.
void join_correlated(std::vector<FactorSet>& groups, const DrawPlan& draws) {
  for (const auto& block : draws.correlated_blocks()) {
    for (const ShareKind kind : {ShareKind::step, ShareKind::tolerance}) {
      FactorSet joint{kind, "", {}};
      std::erase_if(groups, [&](const FactorSet& g) {
        const bool touches =
            g.kind == kind && std::ranges::any_of(block, [&](std::size_t f) { return g.factors.contains(f); });
        if (touches) {
          joint.name += (joint.name.empty() ? "" : " + ") + g.name;
          joint.factors.insert(g.factors.begin(), g.factors.end());
        }
        return touches;
      });
      if (!joint.factors.empty()) groups.push_back(std::move(joint));
    }
  }
}

std::vector<FactorSet> groups_of(const Study::Prepared& study) {
  std::vector<FactorSet> groups;
  const auto& factors = study.draws.factors();
  for (std::size_t f = 0; f < factors.size(); ++f) {
    const Input& input = study.model.inputs[index(factors[f].input)];
    group_named(groups, ShareKind::step, step_of(input)).factors.insert(f);
    group_named(groups, ShareKind::tolerance, input.path).factors.insert(f);
    group_named(groups, ShareKind::level, source_of_spread(study.model, factors[f])).factors.insert(f);
  }
  if (study.model.sensor.slot.side_up == signature::SideUp::either) {
    group_named(groups, ShareKind::step, conditions_step).factors.insert(factors.size());
    group_named(groups, ShareKind::tolerance, "sensor.slot.side up").factors.insert(factors.size());
    group_named(groups, ShareKind::level, study.model.groups[reading_level].name).factors.insert(factors.size());
  }
  join_correlated(groups, study.draws);
  std::ranges::stable_sort(groups, {}, &FactorSet::kind);
  return groups;
}

/// The sets of factors to swap, each once: a step with one tolerance swaps what that tolerance does.
std::vector<std::set<std::size_t>> distinct_sets(const std::vector<FactorSet>& groups) {
  std::vector<std::set<std::size_t>> sets;
  for (const FactorSet& group : groups) {
    if (std::ranges::find(sets, group.factors) == sets.end()) sets.push_back(group.factors);
  }
  return sets;
}

/// Sums of every set, channel and replicate: [set * channels + channel][replicate].
using Sums = std::vector<std::vector<statistics::PickFreezeSums>>;

Sums pick_freeze(const Study::Prepared& study, const ShareOptions& options,
                 const std::vector<std::set<std::size_t>>& sets) {
  const std::size_t channels = study.model.sensor.channels.size();
  // Matrices A and B take coordinates of one point set; factors that find none there are drawn plainly, and pick-freeze
  // needs all of a row from the same kind of draws.
  const bool nets = study.points.dimensions() == 2 * study.draws.coordinates();
  const std::uint64_t rows = std::bit_ceil(std::max<std::uint64_t>(block_lanes, options.rows / replicates));
  Sums sums(sets.size() * channels, std::vector<statistics::PickFreezeSums>(replicates));
  for_each_index(replicates, options.threads, [&](std::size_t replicate) {
    if (options.stop.stop_requested()) return;
    Pipeline a(study, block_lanes), b(study, block_lanes), ab(study, block_lanes);
    DrawSource from_a{.seed = options.seed};
    from_a.replicate = replicate;
    from_a.replicate_first = replicate * rows;
    if (nets) from_a.points = &study.points;
    DrawSource from_b = from_a;
    from_b.stream = 1;
    for (std::uint64_t row = 0; row < rows; row += block_lanes) {
      // Before sorting: what a sort leaves does not vary independently any more, so that no share could be told.
      for (auto [pieces, source] : {std::pair(&a, &from_a), std::pair(&b, &from_b)}) {
        pieces->draw(*source, replicate * rows + row);
        pieces->assemble_and_read(false);
      }
      for (std::size_t f = 0; f < a.deviations().count(); ++f) {
        std::ranges::copy(a.deviations()[f], ab.deviations()[f].begin());
      }
      for (std::size_t g = 0; g < sets.size(); ++g) {
        for (const std::size_t f : sets[g]) std::ranges::copy(b.deviations()[f], ab.deviations()[f].begin());
        ab.assemble_and_read(false);
        for (const std::size_t f : sets[g]) std::ranges::copy(a.deviations()[f], ab.deviations()[f].begin());
        for (std::size_t c = 0; c < channels; ++c) {
          sums[g * channels + c][replicate].add(a.reading().values[c], b.reading().values[c], ab.reading().values[c]);
        }
      }
    }
  });
  if (options.stop.stop_requested()) throw Interrupted();
  return sums;
}

Figure figure(const statistics::ShareEstimate& estimate) {
  return {estimate.value, Interval{estimate.interval.lower, estimate.interval.upper}, {}};
}

}  // namespace

void add_shares(const Study::Prepared& study, const ShareOptions& options, Result& result) {
  const std::vector<FactorSet> groups = groups_of(study);
  if (groups.empty()) return;
  const auto sets = distinct_sets(groups);
  const std::size_t channels = result.channels.size();
  const Sums sums = pick_freeze(study, options, sets);
  result.methods.share = "delete-one jackknife over " + std::to_string(replicates) + " replicates";
  for (std::size_t c = 0; c < channels; ++c) {
    auto& shares = result.channels[c].shares;
    for (const FactorSet& group : groups) {
      const auto set = static_cast<std::size_t>(std::ranges::find(sets, group.factors) - sets.begin());
      const auto found = statistics::variance_share(sums[set * channels + c], confidence);
      // No row moved when these factors were swapped: they have no share, and an estimate would only show noise.
      if (found.total.value == 0.0) continue;
      shares.push_back({group.kind, group.name, figure(found.first_order), figure(found.total)});
    }
    std::ranges::stable_sort(shares, [](const Share& x, const Share& y) {
      return x.kind != y.kind ? x.kind < y.kind : x.total.value > y.total.value;
    });
  }
}

std::vector<LotChannel> group_components(const Study::Prepared& study, const ShareOptions& options) {
  std::vector<FactorSet> groups = groups_of(study);
  std::erase_if(groups, [](const FactorSet& group) { return group.kind != ShareKind::level; });
  const auto sets = distinct_sets(groups);
  const Sums sums = pick_freeze(study, options, sets);
  const std::size_t channels = study.model.sensor.channels.size();
  const auto signed_root = [](double v) { return std::copysign(std::sqrt(std::abs(v)), v); };
  std::vector<LotChannel> made;
  for (std::size_t c = 0; c < channels; ++c) {
    LotChannel& channel = made.emplace_back(LotChannel{study.model.sensor.channels[c].name, {}});
    double apart = 0.0, variance = 0.0, error = 0.0;
    for (std::size_t g = 0; g < groups.size(); ++g) {
      const auto& batches = sums[g * channels + c];
      const auto found = statistics::variance_share(batches, confidence);
      if (found.total.value == 0.0) continue;
      statistics::PickFreezeSums all;
      for (const auto& batch : batches) all.merge(batch);
      variance = all.variance();
      apart += found.first_order.value;
      error = std::hypot(error, 0.5 * (found.first_order.interval.upper - found.first_order.interval.lower));
      const auto sd = [&](double share) { return signed_root(share * variance); };
      const auto& [value, interval] = found.first_order;
      channel.components.push_back({groups[g].name, {sd(value), Interval{sd(interval.lower), sd(interval.upper)}, {}}});
    }
    std::ranges::stable_sort(channel.components, std::ranges::greater{},
                             [](const LotComponent& k) { return k.sd.value; });
    if (channel.components.size() < 2) continue;
    const auto sd = [&](double share) { return signed_root(share * variance); };
    const double rest = 1.0 - apart;
    channel.components.push_back(
        {"groups acting together", {sd(rest), Interval{sd(rest - error), sd(rest + error)}, {}}});
  }
  return made;
}

}  // namespace mintspread::study
