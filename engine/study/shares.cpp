#include "engine/study/shares.hpp"

#include <algorithm>
#include <set>
#include <utility>

#include "engine/statistics/variance_shares.hpp"
#include "engine/study/parallel.hpp"

namespace mintspread::study {

namespace {

constexpr std::size_t batches = 32;
constexpr double confidence = 0.95;
constexpr const char* conditions_step = "conditions";
constexpr const char* noise_step = "noise";

/// Factors that are swapped together, and the side of the coin, which counts as a factor after all others.
struct FactorSet {
  ShareKind kind;
  std::string name;
  std::set<std::size_t> factors;
};

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
    group_named(groups, ShareKind::level, study.model.groups[factors[f].level].name).factors.insert(f);
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

/// Streams of all factors with the factors of a group from matrix B.
std::vector<std::uint32_t> streams(std::size_t factors, const std::set<std::size_t>& from_b) {
  std::vector<std::uint32_t> stream(factors + 1, 0);
  for (const std::size_t f : from_b) stream[f] = 1;
  return stream;
}

Figure figure(const statistics::ShareEstimate& estimate) {
  return {estimate.value, Interval{estimate.interval.lower, estimate.interval.upper}, {}};
}

}  // namespace

void add_shares(const Study::Prepared& study, const ShareOptions& options, Result& result) {
  const std::vector<FactorSet> groups = groups_of(study);
  const std::size_t factors = study.draws.factors().size();
  const std::size_t channels = result.channels.size();
  if (groups.empty()) return;
  const std::vector<std::uint32_t> all_a = streams(factors, {});
  const std::vector<std::uint32_t> all_b(factors + 1, 1);
  std::vector<std::vector<std::uint32_t>> swapped;
  for (const FactorSet& group : groups) swapped.push_back(streams(factors, group.factors));

  // Sums of every batch, group and channel; batches are merged in order below.
  const std::size_t blocks_a_batch = std::max<std::uint64_t>(1, options.rows / (batches * block_lanes));
  std::vector<std::vector<statistics::PickFreezeSums>> sums(groups.size() * channels,
                                                            std::vector<statistics::PickFreezeSums>(batches));
  for_each_index(batches, options.threads, [&](std::size_t batch) {
    if (options.stop.stop_requested()) return;
    Pipeline a(study, block_lanes), b(study, block_lanes), ab(study, block_lanes);
    for (std::size_t block = 0; block < blocks_a_batch; ++block) {
      const std::uint64_t first = (batch * blocks_a_batch + block) * block_lanes;
      a.draw_and_read({options.seed, all_a}, first, false);
      b.draw_and_read({options.seed, all_b}, first, false);
      for (std::size_t g = 0; g < groups.size(); ++g) {
        ab.draw_and_read({options.seed, swapped[g]}, first, false);
        for (std::size_t c = 0; c < channels; ++c) {
          sums[g * channels + c][batch].add(a.reading().values[c], b.reading().values[c], ab.reading().values[c]);
        }
      }
    }
  });
  if (options.stop.stop_requested()) throw Interrupted();
  for (std::size_t c = 0; c < channels; ++c) {
    auto& shares = result.channels[c].shares;
    for (std::size_t g = 0; g < groups.size(); ++g) {
      const auto found = statistics::variance_share(sums[g * channels + c], confidence);
      shares.push_back({groups[g].kind, groups[g].name, figure(found.first_order), figure(found.total)});
    }
    std::ranges::stable_sort(shares, [](const Share& x, const Share& y) {
      return x.kind != y.kind ? x.kind < y.kind : x.total.value > y.total.value;
    });
  }
}

}  // namespace mintspread::study
