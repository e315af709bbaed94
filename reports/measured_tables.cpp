#include "reports/measured_tables.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"

namespace mintspread::reports {

using namespace measured;

namespace {

constexpr double quantiles_told_within = 10.0;

Cell counted_cell(std::uint64_t many) { return {{counted(many), std::to_string(many)}}; }

Cell as_stated() { return {{"as stated", ""}}; }
/// The uncertainty of the bias, and how well it is known.
Cell bias_cell(const GaugeRow& gauge) {
  Cell cell{number(significant(gauge.bias_uncertainty, 2), gauge.bias_uncertainty)};
  if (gauge.bias_uncertainty > 0.0 && gauge.bias_freedom > 0.0) {
    cell.push_back({" of ", ""});
    cell.push_back(number(significant(gauge.bias_freedom, 3), gauge.bias_freedom));
    cell.push_back({gauge.bias_freedom == 1.0 ? " degree of freedom" : " degrees of freedom", ""});
  }
  return cell;
}

Cell rests_on(const GaugeRow& gauge) {
  if (!(gauge.freedom > 0.0)) return as_stated();
  const double uncertainty = gauge.repeatability_uncertainty();
  return {number(significant(uncertainty, 2), uncertainty),
          {" of ", ""},
          number(significant(gauge.freedom + 1.0), gauge.freedom + 1.0),
          {" readings", ""}};
}

std::string in_unit(const MeasuredResult& r, const char* suffix = "") {
  return r.unit.empty() ? "" : ", in " + typeset(r.unit) + suffix;
}

Cell range_cell(const Range& range, int digits) {
  return {number(significant(range.lower, digits), range.lower),
          {" to ", ""},
          number(significant(range.upper, digits), range.upper)};
}

/// A value and its interval, told to the digits that the interval supports.
Row with_interval(const std::string& label, double value, const Range& range) {
  study::Figure figure;
  figure.value = value;
  if (std::isfinite(range.lower) && std::isfinite(range.upper) && range.lower < range.upper)
    figure.interval = study::Interval{range.lower, range.upper};
  return figure_row(label, figure, false);
}

/// As with_interval, behind a cell for the standard uncertainty.
Row after_uncertainty(Row row, Cell uncertainty) {
  row.cells.insert(row.cells.begin() + 1, std::move(uncertainty));
  return row;
}

// A chance found by simulation has the standard error of a fraction.
Cell chance_cell(const ShapeRow& shape, std::uint64_t draws) {
  if (!shape.p_value) return {};
  const double p = *shape.p_value;
  const std::string text = p < 1e-4 ? "0.0000" : fixed(p, p < 0.01 ? 4 : 3);
  if (!shape.simulated || draws == 0) return {number(text, p), {shape.simulated ? "" : " by formula", ""}};
  const double n = static_cast<double>(draws);
  if (p * (n + 1.0) < 1.5) return {{"at most ", ""}, number(text, p)};
  return {number(text, p), {" ± " + significant(1.96 * std::sqrt(p * (1.0 - p) / n), 1), ""}};
}

}  // namespace

std::string counted(std::uint64_t number) { return count(number, "\u202f"); }

bool told_apart(const MeasuredResult& r) {
  return !r.groups.empty() && r.groups.back().freedom > 0 &&
         std::any_of(r.groups.begin(), r.groups.end(), [](const GroupRow& group) {
           return !group.name.empty() && group.freedom > 0 && group.variance > 0.0;
         });
}

bool near_best(const ShapeRow& shape) { return shape.obstacle.empty() && shape.behind <= quantiles_told_within; }

PageTable fit_bars_table(const MeasuredResult& r) {
  const std::string& best = r.shapes.front().name;
  PageTable table{"Values in each class" + in_unit(r) +
                      "; the counts of samples from the fitted shape scatter about what it expects with the standard "
                      "deviation of the last column",
                  {"from", "to", "values", best + " expects", "scatter"},
                  {},
                  false};
  RowGroup group{"", {}};
  for (const Bar& bar : r.bars)
    group.rows.push_back({significant(bar.lower, 5),
                          {{number(significant(bar.upper, 5), bar.upper)},
                           counted_cell(bar.count),
                           {number(fixed(bar.expected, 1), bar.expected)},
                           {number(fixed(bar.scatter, 1), bar.scatter)}}});
  table.groups.push_back(std::move(group));
  return table;
}

PageTable fit_pairs_table(const MeasuredResult& r) {
  PageTable table{
      "Ordered values and the quantiles of " + r.shapes.front().name + in_unit(r) +
          "; every few, and all at the ends. The last column holds 95 % of the values of a rank if the shape is right",
      {"of " + counted(r.pairs.size()) + " drawn", "value", "quantile of the fit", "95 % by chance"},
      {},
      false};
  RowGroup group{"", {}};
  const std::size_t last = r.pairs.size() - 1, stride = std::max<std::size_t>(1, r.pairs.size() / 10);
  constexpr std::size_t ends = 4;
  // One number of digits for the column: those that the narrowest of its intervals supports.
  double narrowest = std::numeric_limits<double>::infinity();
  for (const QuantilePair& pair : r.pairs) narrowest = std::min(narrowest, pair.chance.upper - pair.chance.lower);
  const int places = decimal_places(std::isfinite(narrowest) && narrowest > 0.0 ? 0.5 * narrowest : 1.0);
  for (std::size_t i = 0; i <= last; ++i) {
    if (i >= ends && i + ends <= last && i % stride != 0) continue;
    const QuantilePair& pair = r.pairs[i];
    const auto told = [&](double value) { return number(fixed(value, places), value); };
    group.rows.push_back({counted(i + 1),
                          {{told(pair.observed)},
                           {told(pair.expected)},
                           {told(pair.chance.lower), {" to ", ""}, told(pair.chance.upper)}}});
  }
  table.groups.push_back(std::move(group));
  return table;
}

PageTable fit_ranks_table(const MeasuredResult& r) {
  PageTable table{"How well each shape fits; ± is the half-width of the 95 % interval of a simulation",
                  {"shape", "numbers fitted", "AICc behind", "Anderson-Darling", "chance of a larger one"},
                  {},
                  false};
  RowGroup group{"", {}};
  for (const ShapeRow& shape : r.shapes) {
    if (!shape.obstacle.empty()) continue;
    group.rows.push_back({shape.name,
                          {counted_cell(shape.estimated),
                           {number(fixed(shape.behind, 1), shape.behind)},
                           shape.a_squared ? Cell{number(significant(*shape.a_squared, 3), *shape.a_squared)} : Cell{},
                           chance_cell(shape, r.draws)}});
  }
  table.groups.push_back(std::move(group));
  return table;
}

PageTable fit_reach_table(const MeasuredResult& r) {
  const bool simulated = std::any_of(r.shapes.begin(), r.shapes.end(), [](const auto& one) { return one.reach; });
  PageTable table{"Quantiles of the readings by each shape that is less than 10 behind" + in_unit(r) +
                      (simulated ? "; intervals are those of " + counted(r.draws) +
                                       " samples drawn from the shape and fitted likewise, if the shape is right"
                                 : "; no samples were drawn, so that their intervals are not known"),
                  {"quantile", "value", "95 % interval"},
                  {},
                  false};
  for (const ShapeRow& shape : r.shapes) {
    if (!near_best(shape)) continue;
    const auto reach = shape.reach.value_or(std::array<Range, 3>{});
    table.groups.push_back(
        {shape.name,
         {with_interval("0.135 %", shape.lower_reach, reach[0]), with_interval("50 %", shape.median, reach[1]),
          with_interval("99.865 %", shape.upper_reach, reach[2])}});
  }
  return table;
}

PageTable fit_groups_table(const MeasuredResult& r) {
  PageTable table{"Nested analysis of variance" + (r.unit.empty() ? "" : in_unit(r) + " and its square") +
                      "; intervals by the modified large-sample method, of shares by generalized confidence intervals, "
                      "all for normal effects",
                  {"figure", "value", "standard uncertainty", "95 % interval"},
                  {},
                  false};
  for (std::size_t i = 0; i < r.groups.size(); ++i) {
    const GroupRow& group = r.groups[i];
    const bool last = i + 1 == r.groups.size();
    RowGroup to{last && i > 0 ? "within " + r.groups[i - 1].name : group.name, {}};
    if (!last) to.rows.push_back({"units", {counted_cell(group.units), {}, {}}});
    to.rows.push_back({"degrees of freedom", {counted_cell(group.freedom), {}, {}}});
    if (group.freedom > 0) {
      to.rows.push_back({"variance",
                         {{number(significant(group.variance, 3), group.variance)},
                          {number(significant(group.uncertainty, 2), group.uncertainty)},
                          range_cell({group.lower, group.upper}, 3)}});
      const Range sd{std::sqrt(group.lower), std::sqrt(group.upper)};
      const double found = std::sqrt(std::max(group.variance, 0.0));
      to.rows.push_back({"standard deviation",
                         {group.variance > 0.0 ? Cell{number(significant(found, 3), found)} : Cell{{"none", ""}},
                          {},
                          range_cell(sd, 3)}});
      const auto percent = [](double share) { return number(fixed(100.0 * share, 1) + " %", share); };
      to.rows.push_back({"share of the variance",
                         {{percent(group.share)},
                          {},
                          {percent(group.share_interval.lower), {" to ", ""}, percent(group.share_interval.upper)}}});
    }
    table.groups.push_back(std::move(to));
  }
  return table;
}

PageTable fit_gauge_table(const MeasuredResult& r) {
  const GaugeEffect& effect = *r.gauge;
  PageTable table{
      "The gauge's error" + in_unit(r) +
          "; intervals of variances have the spread of the readings, whatever their kurtosis, and the "
          "uncertainty of a repeatability found from readings, those of means the degrees of freedom of the "
          "bias; what states none is taken as known",
      {"figure", "value", "standard uncertainty", "95 % interval"},
      {},
      false};
  const bool several = effect.gauges.size() > 1;
  for (const GaugeRow& gauge : effect.gauges) {
    RowGroup group{gauge.name, {}};
    group.rows.push_back({"bias taken off", {{number(significant(gauge.bias, 3), gauge.bias)}, bias_cell(gauge), {}}});
    if (gauge.proportional_bias != 0.0)
      group.rows.push_back({"bias in proportion",
                            {{number(significant(100.0 * gauge.proportional_bias, 3) + " %", gauge.proportional_bias)},
                             as_stated(),
                             {}}});
    group.rows.push_back(
        {"repeatability", {{number(significant(gauge.repeatability, 3), gauge.repeatability)}, rests_on(gauge), {}}});
    if (several)
      group.rows.push_back({"weight", {{number(fixed(100.0 * gauge.weight, 0) + " %", gauge.weight)}, {}, {}}});
    if (several && gauge.difference)
      group.rows.push_back(
          {"difference from all",
           {{number(significant(*gauge.difference, 3), *gauge.difference)},
            {number(significant(*gauge.difference_uncertainty, 2), *gauge.difference_uncertainty)},
            range_cell({*gauge.difference - *gauge.difference_expanded, *gauge.difference + *gauge.difference_expanded},
                       3)}});
    if (gauge.outside_range > 0)
      group.rows.push_back({"readings outside of its range", {counted_cell(gauge.outside_range), {}, {}}});
    table.groups.push_back(std::move(group));
  }
  table.groups.push_back(
      {"Mean" + in_unit(r),
       {after_uncertainty(with_interval("with the uncertainty of the bias", r.mean, effect.mean_interval),
                          {number(significant(effect.mean_uncertainty, 2), effect.mean_uncertainty)})}});
  RowGroup left{
      "Variances" + in_unit(r, " squared"),
      {after_uncertainty(with_interval("of the readings", effect.measured_variance, effect.measured_interval), {}),
       {"of the gauge", {{number(significant(effect.error_variance, 3), effect.error_variance)}, {}, {}}},
       after_uncertainty(with_interval("left", effect.variance, effect.interval), {})}};
  table.groups.push_back(std::move(left));
  return table;
}

}  // namespace mintspread::reports
