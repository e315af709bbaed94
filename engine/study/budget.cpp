#include "engine/study/budget.hpp"

#include <algorithm>
#include <cmath>

namespace mintspread::study {

namespace {

/// Half the width of an input's tolerance, SI; three standard deviations where it states none.
double half_tolerance(const Input& input, double sd) {
  const double half = 0.5 * (input.tolerance.upper - input.tolerance.lower);
  return std::isfinite(half) ? half : 3.0 * sd;
}

}  // namespace

std::vector<Budget> budgets(const Study::Prepared& study) {
  std::vector<std::size_t> varying;
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    if (study.draws.spread_of(static_cast<InputId>(i)) > 0.0) varying.push_back(i);
  }
  std::vector<Budget> made(study.model.sensor.channels.size());
  std::vector<double> squares(made.size());
  // Lanes 2 v and 2 v + 1 hold the nominal piece with one input half a standard deviation down and up.
  Pipeline pipeline(study, block_lanes);
  Columns& inputs = pipeline.inputs();
  for (std::size_t first = 0; first < varying.size(); first += block_lanes / 2) {
    const std::size_t count = std::min(block_lanes / 2, varying.size() - first);
    for (std::size_t v = 0; v < count; ++v) {
      const std::size_t i = varying[first + v];
      const double half = 0.5 * study.draws.spread_of(static_cast<InputId>(i));
      inputs[i][2 * v] -= half;
      inputs[i][2 * v + 1] += half;
    }
    pipeline.read_unrounded();
    for (std::size_t v = 0; v < count; ++v) {
      const std::size_t i = varying[first + v];
      std::ranges::fill(inputs[i], study.draws.nominal()[i]);
      const Input& input = study.model.inputs[i];
      const double sd = study.draws.spread_of(static_cast<InputId>(i));
      for (std::size_t c = 0; c < made.size(); ++c) {
        const auto values = pipeline.reading().values[c];
        const double change = values[2 * v + 1] - values[2 * v];
        if (!(std::abs(change) > 0.0)) continue;
        const double effect = std::abs(change) / sd * half_tolerance(input, sd);
        made[c].entries.push_back({i, sd, change / sd, std::abs(change), effect});
        made[c].worst_case += effect;
        squares[c] += effect * effect;
      }
    }
  }
  for (std::size_t c = 0; c < made.size(); ++c) {
    made[c].root_sum_square = std::sqrt(squares[c]);
    std::ranges::stable_sort(made[c].entries, std::greater{}, &BudgetEntry::contribution);
  }
  return made;
}

void add_budgets(const Study::Prepared& study, Result& result) {
  auto made = budgets(study);
  for (std::size_t c = 0; c < made.size(); ++c) result.channels[c].budget = std::move(made[c]);
  for (auto& set : result.windows) {
    for (auto& criterion : set.criteria) {
      if (!criterion.channel) continue;
      const ChannelResult& channel = result.channels[*criterion.channel];
      if (!channel.budget || channel.reading.pieces < 2) continue;
      const double mean = channel.reading.mean.value;
      const bool two_sided = std::isfinite(criterion.lower) && std::isfinite(criterion.upper);
      WindowUse use;
      use.half_width = two_sided                        ? 0.5 * (criterion.upper - criterion.lower)
                       : std::isfinite(criterion.upper) ? criterion.upper - mean
                                                        : mean - criterion.lower;
      use.off_centre = two_sided ? std::abs(mean - 0.5 * (criterion.lower + criterion.upper)) : 0.0;
      // First-order variances by level, from the budget; each level gets its part of three standard deviations of the
      // reading.
      std::vector<double> variance(study.model.groups.size(), 0.0);
      double total = 0.0;
      for (const BudgetEntry& entry : channel.budget->entries) {
        for (const auto& [level, part] : study.draws.variance_by_level(static_cast<InputId>(entry.input))) {
          const double here = entry.contribution * entry.contribution * part;
          variance[level] += here;
          total += here;
        }
      }
      const double reach = 3.0 * channel.reading.sd.value;
      for (std::size_t level = 0; level < variance.size(); ++level) {
        if (variance[level] > 0.0)
          use.levels.push_back({study.model.groups[level].name, reach * variance[level] / total});
      }
      const auto& band = channel.reading.mean.band;
      use.not_known = band ? 0.5 * (band->upper - band->lower) : 0.0;
      use.left = use.half_width - use.off_centre - reach - use.not_known;
      criterion.use = std::move(use);
    }
  }
}

}  // namespace mintspread::study
