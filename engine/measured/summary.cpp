#include "engine/measured/summary.hpp"

#include <algorithm>
#include <cmath>

#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"
#include "engine/statistics/tolerance.hpp"

namespace mintspread::measured {

namespace {

constexpr double confidence = 0.95;
constexpr double wide_coverage = 0.9973;
constexpr double bars_wanted = 20.0;

void bars(const ShapeFit& best, const Observations& o, MeasuredResult& result) {
  double width = (o.largest - o.smallest) / bars_wanted;
  const double cell = o.cells.front().upper - o.cells.front().lower;
  if (cell > 0.0) width = cell * std::max(1.0, std::round(width / cell));
  const double from = cell > 0.0 ? o.smallest - 0.5 * cell : o.smallest;
  const Curve curve(best.placed);
  std::size_t next = 0;
  for (int i = 0; next < o.cells.size(); ++i) {
    Bar bar{from + i * width, from + (i + 1) * width, 0, 0.0};
    // The last value of an unrounded sample ends the last bar.
    const double edge = bar.upper + 1e-9 * width;
    while (next < o.cells.size() && o.cells[next].value < edge) bar.count += o.cells[next++].count;
    const double below = curve.below(bar.lower);
    const double part = below < 0.5 ? curve.below(bar.upper) - below : curve.above(bar.lower) - curve.above(bar.upper);
    bar.expected = static_cast<double>(o.count) * part;
    bar.scatter = std::sqrt(bar.expected * (1.0 - part));  // binomial
    result.bars.push_back(bar);
  }
}

/// Ranks thin out evenly towards the middle: the tails are what is looked at.
void pairs(const ShapeFit& best, const Observations& o, MeasuredResult& result) {
  if (!o.censored.empty()) return;
  constexpr std::uint64_t in_full = 20, in_between = 80;
  const std::uint64_t n = o.values;
  std::vector<std::uint64_t> ranks;
  for (std::uint64_t rank = 1; rank <= std::min(n, in_full); ++rank) ranks.push_back(rank);
  const std::uint64_t upper = std::max(in_full, n - std::min(n, in_full)) + 1;  // from here on all of them again
  const std::uint64_t stride = std::max<std::uint64_t>(1, n / in_between);
  for (std::uint64_t rank = in_full + stride; rank < upper; rank += stride) ranks.push_back(rank);
  for (std::uint64_t rank = upper; rank <= n; ++rank) ranks.push_back(rank);
  const Curve curve(best.placed);
  std::uint64_t seen = 0;
  auto cell = o.cells.begin();
  for (const std::uint64_t rank : ranks) {
    while (seen + cell->count < rank) seen += (cell++)->count;
    const double below = (static_cast<double>(rank) - 0.5) / static_cast<double>(n);
    const double above = (static_cast<double>(n - rank) + 0.5) / static_cast<double>(n);
    const auto within = statistics::probability_at_rank(n, rank, confidence);
    const auto at = [&](double p) { return curve.quantile({p, 1.0 - p}); };
    result.pairs.push_back({curve.quantile({below, above}), cell->value, {at(within.lower), at(within.upper)}});
  }
}

}  // namespace

void summarise(const Observations& o, MeasuredResult& r) {
  r.values = o.values;
  r.binned = o.binned;
  r.mean = o.mean, r.sd = o.sd, r.skewness = o.skewness;
  r.smallest = o.smallest, r.median = o.median, r.largest = o.largest;
  r.mean_uncertainty = o.sd / std::sqrt(static_cast<double>(o.values));
  statistics::Moments moments;
  for (const Cell& cell : o.cells) {
    // Equal values merge into what one call with all of them would give.
    const std::vector<double> equal(cell.count, cell.value);
    moments.add(equal);
  }
  const auto interval = statistics::sd_interval(moments, confidence);
  r.sd_lower = interval.lower, r.sd_upper = interval.upper;
  r.tails.between_extremes = statistics::coverage_of_range(o.values, confidence);
  r.tails.below_largest = statistics::coverage_of_largest(o.values, confidence);
  r.tails.needed = statistics::values_for_range(wide_coverage, confidence);
  if (!o.censored.empty()) return;
  r.tails.factor = statistics::two_sided_factor(o.values, wide_coverage, confidence);
  r.tails.lower = o.mean - r.tails.factor * o.sd, r.tails.upper = o.mean + r.tails.factor * o.sd;
}

void describe(const std::vector<ShapeFit>& fits, const Observations& o, MeasuredResult& result) {
  for (const ShapeFit& fit : fits) {
    ShapeRow& row = result.shapes.emplace_back();
    row.name = name_of(fit.family);
    row.obstacle = fit.obstacle;
    if (!fit.obstacle.empty()) continue;
    row.estimated = fit.estimated;
    row.mean = fit.mean, row.sd = fit.sd;
    row.log_likelihood = fit.log_likelihood;
    row.aicc = fit.aicc, row.behind = fit.aicc - fits.front().aicc;
    row.a_squared = fit.a_squared, row.p_value = fit.p_value;
    row.simulated = fit.judged == Judged::simulated;
    const Curve curve(fit.placed);
    constexpr double low = 0.00135;
    row.lower_reach = curve.quantile({low, 1.0 - low});
    row.median = curve.quantile({0.5, 0.5});
    row.upper_reach = curve.quantile({1.0 - low, low});
    if (!fit.reach) continue;
    row.reach.emplace();
    for (std::size_t i = 0; i < row.reach->size(); ++i)
      (*row.reach)[i] = {(*fit.reach)[i].lower, (*fit.reach)[i].upper};
  }
  if (!fits.front().obstacle.empty()) return;
  bars(fits.front(), o, result);
  pairs(fits.front(), o, result);
}

std::vector<GroupRow> group_rows(const std::vector<std::string>& names, const statistics::NestedGroups& groups) {
  const auto variances = groups.variances();
  const auto shares = statistics::share_intervals(groups.components(), confidence);
  double sum = 0.0;
  for (const auto& one : variances) sum += std::max(one.variance, 0.0);
  std::vector<GroupRow> rows;
  for (std::size_t i = 0; i < variances.size(); ++i) {
    const auto& one = variances[i];
    rows.push_back({i < names.size() ? names[i] : "",
                    one.units,
                    one.freedom,
                    one.mean_square,
                    one.variance,
                    one.uncertainty,
                    one.interval.lower,
                    one.interval.upper,
                    sum > 0.0 ? std::max(one.variance, 0.0) / sum : 0.0,
                    {shares[i].lower, shares[i].upper}});
  }
  return rows;
}

}  // namespace mintspread::measured
