#include "engine/study/budget.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <span>

namespace mintspread::study {

namespace {

/// Half the width of an input's tolerance, SI; three standard deviations where it states none.
double half_tolerance(const Input& input, double sd) {
  const double half = 0.5 * (input.tolerance.upper - input.tolerance.lower);
  return std::isfinite(half) ? half : 3.0 * sd;
}

std::vector<std::size_t> varying_inputs(const Study::Prepared& study) {
  std::vector<std::size_t> varying;
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    if (study.draws.spread_of(static_cast<InputId>(i)) > 0.0) varying.push_back(i);
  }
  return varying;
}

/// [channel][position in `varying`]: change of the reading over one standard deviation of the input about the centre.
using Changes = std::vector<std::vector<double>>;

Changes changes_about(const Study::Prepared& study, const std::vector<std::size_t>& varying,
                      std::span<const double> centre) {
  Changes changes(study.model.sensor.channels.size(), std::vector<double>(varying.size()));
  // Lanes 2 v and 2 v + 1 hold the central piece with one input half a standard deviation down and up.
  Pipeline pipeline(study, block_lanes, centre);
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
      std::ranges::fill(inputs[varying[first + v]], centre[varying[first + v]]);
      for (std::size_t c = 0; c < changes.size(); ++c) {
        const auto values = pipeline.reading().values[c];
        changes[c][first + v] = values[2 * v + 1] - values[2 * v];
      }
    }
  }
  return changes;
}

void widen(Figure& figure, double value) {
  if (std::isnan(value)) return;
  if (!figure.band) figure.band = Band{figure.value, figure.value};
  figure.band->lower = std::min(figure.band->lower, value);
  figure.band->upper = std::max(figure.band->upper, value);
}

/// Widens the figures of a channel by its changes about other centres.
void widen(const Study::Prepared& study, const std::vector<std::size_t>& varying, const std::vector<double>& changes,
           Budget& budget) {
  double sum = 0.0, squares = 0.0;
  for (BudgetEntry& entry : budget.entries) {
    const auto v = static_cast<std::size_t>(std::ranges::lower_bound(varying, entry.input) - varying.begin());
    widen(entry.sensitivity, changes[v] / entry.spread);
    widen(entry.contribution, std::abs(changes[v]));
    const double effect =
        std::abs(changes[v]) / entry.spread * half_tolerance(study.model.inputs[entry.input], entry.spread);
    sum += effect;
    squares += effect * effect;
  }
  widen(budget.worst_case, sum);
  widen(budget.root_sum_square, std::sqrt(squares));
}

double contribution(const BudgetEntry& entry) { return entry.contribution.value; }

}  // namespace

std::vector<Budget> budgets(const Study::Prepared& study, std::span<const std::vector<double>> outer_centres) {
  const auto varying = varying_inputs(study);
  const Changes nominal = changes_about(study, varying, study.draws.nominal());
  std::vector<Budget> made(nominal.size());
  for (std::size_t c = 0; c < made.size(); ++c) {
    double sum = 0.0, squares = 0.0;
    for (std::size_t v = 0; v < varying.size(); ++v) {
      const double change = nominal[c][v];
      if (!(std::abs(change) > 0.0)) continue;
      const Input& input = study.model.inputs[varying[v]];
      const double sd = study.draws.spread_of(static_cast<InputId>(varying[v]));
      const double effect = std::abs(change) / sd * half_tolerance(input, sd);
      made[c].entries.push_back({varying[v], sd, {change / sd, {}, {}}, {std::abs(change), {}, {}}, effect});
      sum += effect;
      squares += effect * effect;
    }
    made[c].worst_case.value = sum;
    made[c].root_sum_square.value = std::sqrt(squares);
    std::ranges::stable_sort(made[c].entries, std::greater{}, contribution);
  }
  for (const auto& centre : outer_centres) {
    const Changes changes = changes_about(study, varying, centre);
    for (std::size_t c = 0; c < made.size(); ++c) widen(study, varying, changes[c], made[c]);
  }
  return made;
}

namespace {

/// What the uncertainty of the reading's mean makes of its distance from `centre`.
Figure distance(const Figure& mean, double centre) {
  Figure figure{std::abs(mean.value - centre), {}, {}};
  const auto least = [&](const auto& range) {
    const bool inside = range.lower <= centre && centre <= range.upper;
    return inside ? 0.0 : std::min(std::abs(range.lower - centre), std::abs(range.upper - centre));
  };
  const auto most = [&](const auto& range) {
    return std::max(std::abs(range.lower - centre), std::abs(range.upper - centre));
  };
  if (mean.interval) figure.interval = Interval{least(*mean.interval), most(*mean.interval)};
  if (mean.band) figure.band = Band{least(*mean.band), most(*mean.band)};
  return figure;
}

Figure times(double factor, const Figure& figure) {
  Figure scaled{factor * figure.value, {}, {}};
  if (figure.interval) scaled.interval = Interval{factor * figure.interval->lower, factor * figure.interval->upper};
  if (figure.band) scaled.band = Band{factor * figure.band->lower, factor * figure.band->upper};
  return scaled;
}

double half_of(const Figure& figure) {
  return figure.interval ? 0.5 * (figure.interval->upper - figure.interval->lower) : 0.0;
}

}  // namespace

void add_budgets(const Study::Prepared& study, Result& result) {
  const auto& run = result.provenance;
  auto made = budgets(study, study.draws.outer_centres(run.seed, run.outer_draws));
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
      use.off_centre =
          two_sided ? distance(channel.reading.mean, 0.5 * (criterion.lower + criterion.upper)) : Figure{0.0, {}, {}};
      // First-order variances by level, from the budget; each level gets its part of three standard deviations of the
      // reading.
      std::vector<double> variance(study.model.groups.size(), 0.0);
      double total = 0.0;
      for (const BudgetEntry& entry : channel.budget->entries) {
        for (const auto& [level, part] : study.draws.variance_by_level(static_cast<InputId>(entry.input))) {
          const double here = contribution(entry) * contribution(entry) * part;
          variance[level] += here;
          total += here;
        }
      }
      const Figure reach = times(3.0, channel.reading.sd);
      for (std::size_t level = 0; level < variance.size(); ++level) {
        if (variance[level] > 0.0)
          use.levels.push_back({study.model.groups[level].name, times(variance[level] / total, reach)});
      }
      const auto& band = channel.reading.mean.band;
      use.not_known = band ? 0.5 * (band->upper - band->lower) : 0.0;
      use.left.value = use.half_width - use.off_centre.value - reach.value - use.not_known;
      if (reach.interval) {
        const double half = std::hypot(half_of(channel.reading.mean), half_of(reach));
        use.left.interval = Interval{use.left.value - half, use.left.value + half};
      }
      criterion.use = std::move(use);
    }
  }
}

}  // namespace mintspread::study
