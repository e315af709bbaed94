#include "engine/study/tally.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace mintspread::study {

void DistributionTally::add(std::span<const double> values, std::uint64_t removed) {
  // Most blocks have a value in every lane; only the others pay for closing the gaps.
  const auto gaps = static_cast<std::size_t>(std::ranges::count_if(values, [](double v) { return std::isnan(v); }));
  if (gaps == 0) {
    moments.add(values);
    counts.add(values);
    return;
  }
  without_value += gaps - removed;
  std::array<double, block_lanes> kept{};
  const auto end = std::ranges::copy_if(values, kept.begin(), [](double v) { return !std::isnan(v); }).out;
  const std::span<const double> rest(kept.begin(), end);
  moments.add(rest);
  counts.add(rest);
}

void DistributionTally::merge(const DistributionTally& later) {
  moments.merge(later.moments);
  counts.merge(later.counts);
  without_value += later.without_value;
}

Tally::Tally(const TallyPlan& plan)
    : out_of_tolerance(plan.tolerances.size()),
      joint(plan.reading.size(), plan.windows.size()),
      stages(plan.stages, plan.reading.size(), plan.windows.size()),
      plan_(&plan) {
  for (const auto& edges : plan.coin) coin.emplace_back(edges);
  for (const auto& edges : plan.reading) reading.emplace_back(edges);
  for (const auto& edges : plan.relations) relations.emplace_back(edges);
  for (const auto& tests : plan.windows) windows.push_back({0, std::vector<CriterionTally>(tests.size())});
}

void Tally::add(std::uint64_t first, std::size_t count, const Columns& input_values,
                const signature::Readings* coin_values, const signature::Readings& reading_values,
                const Columns& relation_values, const Columns* stage_values) {
  const auto removed = static_cast<std::uint64_t>(
      std::ranges::count(std::span(reading_values.unsolved).first(count), signature::Readings::no_piece));
  pieces += count - removed;
  for (std::size_t lane = 0; lane < count; ++lane)
    if (reading_values.unsolved[lane] == 0) outside += reading_values.outside[lane];
  for (std::size_t lane = 0; lane < count; ++lane) {
    if (reading_values.unsolved[lane] != 1) continue;
    ++unsolved;
    if (first_unsolved.size() < kept_unsolved) first_unsolved.push_back(first + lane);
  }
  for (std::size_t c = 0; c < reading.size(); ++c) {
    reading[c].add(reading_values.values[c].first(count), removed);
    if (coin_values != nullptr) coin[c].add(coin_values->values[c].first(count), removed);
  }
  for (std::size_t r = 0; r < relations.size(); ++r) relations[r].add(relation_values[r].first(count), removed);
  for (std::size_t i = 0; i < out_of_tolerance.size(); ++i) {
    const auto& [input, limits] = plan_->tolerances[i];
    for (std::size_t lane = 0; lane < count; ++lane) {
      const double v = input_values[input][lane];
      if (reading_values.unsolved[lane] != signature::Readings::no_piece && (v < limits.lower || v > limits.upper))
        ++out_of_tolerance[i];
    }
  }
  std::vector<Failure> failures = add_windows(count, reading_values, relation_values);
  if (stage_values != nullptr) stages.add(count, *stage_values, reading_values, failures);
  joint.add(first, count, reading_values, std::move(failures));
}

std::vector<Failure> Tally::add_windows(std::size_t count, const signature::Readings& reading_values,
                                        const Columns& relation_values) {
  std::array<std::uint16_t, block_lanes> failed{};
  std::array<std::size_t, block_lanes> last_failed{};
  std::vector<Failure> failures;
  for (std::size_t w = 0; w < windows.size(); ++w) {
    failed.fill(0);
    const auto& tests = plan_->windows[w];
    for (std::size_t t = 0; t < tests.size(); ++t) {
      const auto& test = tests[t];
      const auto values = test.relation ? relation_values[test.column] : reading_values.values[test.column];
      CriterionTally& criterion = windows[w].criteria[t];
      for (std::size_t lane = 0; lane < count; ++lane) {
        const double value = values[lane];
        if (value >= test.lower && value <= test.upper) continue;
        if (reading_values.unsolved[lane] != 0) continue;
        criterion.low += value < test.lower ? 1U : 0U;
        criterion.high += value > test.upper ? 1U : 0U;
        criterion.undefined += std::isnan(value) ? 1U : 0U;
        ++failed[lane];
        last_failed[lane] = t;
        failures.push_back({lane, w, t});
      }
    }
    for (std::size_t lane = 0; lane < count; ++lane) {
      if (reading_values.unsolved[lane] != 0) continue;
      if (failed[lane] == 0) ++windows[w].accepted;
      if (failed[lane] == 1) ++windows[w].criteria[last_failed[lane]].only_here;
    }
  }
  return failures;
}

void Tally::merge(const Tally& later) {
  pieces += later.pieces;
  unsolved += later.unsolved;
  outside += later.outside;
  for (const auto piece : later.first_unsolved) {
    if (first_unsolved.size() < kept_unsolved) first_unsolved.push_back(piece);
  }
  for (std::size_t c = 0; c < reading.size(); ++c) {
    reading[c].merge(later.reading[c]);
    coin[c].merge(later.coin[c]);
  }
  for (std::size_t r = 0; r < relations.size(); ++r) relations[r].merge(later.relations[r]);
  for (std::size_t i = 0; i < out_of_tolerance.size(); ++i) out_of_tolerance[i] += later.out_of_tolerance[i];
  sorting.merge(later.sorting);
  joint.merge(later.joint);
  stages.merge(later.stages);
  for (std::size_t w = 0; w < windows.size(); ++w) {
    windows[w].accepted += later.windows[w].accepted;
    for (std::size_t t = 0; t < windows[w].criteria.size(); ++t) {
      auto& to = windows[w].criteria[t];
      const auto& from = later.windows[w].criteria[t];
      to.low += from.low;
      to.high += from.high;
      to.undefined += from.undefined;
      to.only_here += from.only_here;
    }
  }
}

}  // namespace mintspread::study
