#include <cmath>
#include <nlohmann/json.hpp>

#include "reports/measured.hpp"

namespace mintspread::reports {

namespace {

using json = nlohmann::ordered_json;

json number(double value) { return std::isfinite(value) ? json(value) : json(nullptr); }
json number(const std::optional<double>& value) { return value ? number(*value) : json(nullptr); }

json text_or_null(const std::string& text) { return text.empty() ? json(nullptr) : json(text); }

json range(const measured::Range& one) { return {number(one.lower), number(one.upper)}; }

json shape_json(const measured::ShapeRow& shape) {
  if (!shape.obstacle.empty()) return {{"shape", shape.name}, {"not_fitted", shape.obstacle}};
  return {
      {"shape", shape.name},
      {"estimated_numbers", shape.estimated},
      {"mean", number(shape.mean)},
      {"sd", number(shape.sd)},
      {"log_likelihood", number(shape.log_likelihood)},
      {"aicc", number(shape.aicc)},
      {"behind", number(shape.behind)},
      {"a_squared", number(shape.a_squared)},
      {"p_value", number(shape.p_value)},
      {"p_value_by", shape.p_value ? json(shape.simulated ? "simulation" : "formula") : json(nullptr)},
      {"quantiles",
       {{"0.00135", number(shape.lower_reach)}, {"0.5", number(shape.median)}, {"0.99865", number(shape.upper_reach)}}},
      {"quantile_intervals_95", shape.reach ? json({{"0.00135", range((*shape.reach)[0])},
                                                    {"0.5", range((*shape.reach)[1])},
                                                    {"0.99865", range((*shape.reach)[2])}})
                                            : json(nullptr)},
      {"specification", text_or_null(shape.line)}};
}

json gauge_json(const measured::GaugeEffect& effect) {
  json gauges = json::array();
  for (const auto& gauge : effect.gauges) {
    const bool counted = gauge.freedom > 0.0;
    gauges.push_back(
        {{"column", gauge.column},
         {"gauge", gauge.name},
         {"file", gauge.file},
         {"bias", number(gauge.bias)},
         {"proportional_bias", number(gauge.proportional_bias)},
         {"bias_uncertainty", number(gauge.bias_uncertainty)},
         {"bias_degrees_of_freedom", gauge.bias_freedom > 0.0 ? number(gauge.bias_freedom) : json(nullptr)},
         {"repeatability", number(gauge.repeatability)},
         {"repeatability_uncertainty", counted ? number(gauge.repeatability_uncertainty()) : json(nullptr)},
         {"repeatability_readings", counted ? number(gauge.freedom + 1.0) : json(nullptr)},
         {"pieces_a_reading", gauge.pieces_a_reading},
         {"weight", number(gauge.weight)},
         {"readings_outside_range", gauge.outside_range},
         {"difference_from_all", number(gauge.difference)},
         {"difference_uncertainty", number(gauge.difference_uncertainty)},
         {"difference_expanded_uncertainty_95", number(gauge.difference_expanded)}});
  }
  return {{"gauges", std::move(gauges)},
          {"measured_variance", number(effect.measured_variance)},
          {"measured_variance_interval_95", range(effect.measured_interval)},
          {"error_variance", number(effect.error_variance)},
          {"variance_left", number(effect.variance)},
          {"variance_left_interval_95", range(effect.interval)},
          {"mean_uncertainty", number(effect.mean_uncertainty)},
          {"mean_interval_95", range(effect.mean_interval)},
          {"pieces_a_reading", effect.pieces_a_reading}};
}

}  // namespace

std::string measured_json(const measured::MeasuredResult& r) {
  json shapes = json::array(), bars = json::array(), pairs = json::array(), groups = json::array();
  for (const auto& shape : r.shapes) shapes.push_back(shape_json(shape));
  for (const auto& bar : r.bars)
    bars.push_back({{"from", number(bar.lower)},
                    {"to", number(bar.upper)},
                    {"values", bar.count},
                    {"expected", number(bar.expected)},
                    {"scatter", number(bar.scatter)}});
  for (const auto& pair : r.pairs)
    pairs.push_back(
        {{"quantile", number(pair.expected)}, {"value", number(pair.observed)}, {"chance_95", range(pair.chance)}});
  for (std::size_t i = 0; i < r.groups.size(); ++i) {
    const auto& group = r.groups[i];
    const bool told = group.freedom > 0;
    groups.push_back({{"group", i + 1 == r.groups.size() ? json("within") : json(group.name)},
                      {"units", group.units},
                      {"degrees_of_freedom", group.freedom},
                      {"mean_square", told ? number(group.mean_square) : json(nullptr)},
                      {"variance", told ? number(group.variance) : json(nullptr)},
                      {"sd", told && group.variance > 0.0 ? number(std::sqrt(group.variance)) : json(nullptr)},
                      {"variance_uncertainty", told ? number(group.uncertainty) : json(nullptr)},
                      {"variance_lower", told ? number(group.lower) : json(nullptr)},
                      {"variance_upper", told ? number(group.upper) : json(nullptr)},
                      {"sd_lower", told ? number(std::sqrt(group.lower)) : json(nullptr)},
                      {"sd_upper", told ? number(std::sqrt(group.upper)) : json(nullptr)},
                      {"share", told ? number(group.share) : json(nullptr)},
                      {"share_interval_95", told ? range(group.share_interval) : json(nullptr)}});
  }
  const json sorted =
      r.sorted_lower ? json({{"lower", number(r.sorted_lower)}, {"upper", number(r.sorted_upper)}}) : json(nullptr);
  const json out = {{"format", "mintspread fit 1"},
                    {"file", r.file},
                    {"column", r.column},
                    {"unit", r.unit},
                    {"rows", r.rows},
                    {"values", r.values},
                    {"gaps", r.gaps},
                    {"below_limit", r.below_limit},
                    {"above_limit", r.above_limit},
                    {"resolution", r.step > 0.0 ? number(r.step) : json(nullptr)},
                    {"sorted", sorted},
                    {"mean", number(r.mean)},
                    {"mean_uncertainty", number(r.mean_uncertainty)},
                    {"sd", number(r.sd)},
                    {"sd_interval_95", {number(r.sd_lower), number(r.sd_upper)}},
                    {"smallest", number(r.smallest)},
                    {"median", number(r.median)},
                    {"largest", number(r.largest)},
                    {"skewness", number(r.skewness)},
                    {"shapes", std::move(shapes)},
                    {"bars", std::move(bars)},
                    {"quantile_pairs", std::move(pairs)},
                    {"groups", std::move(groups)},
                    {"gauge", r.gauge ? gauge_json(*r.gauge) : json(nullptr)},
                    {"tails",
                     {{"confidence", 0.95},
                      {"between_extremes", number(r.tails.between_extremes)},
                      {"below_largest", number(r.tails.below_largest)},
                      {"values_for_99.73_percent", r.tails.needed},
                      {"normal_factor_99.73_percent", number(r.tails.factor)},
                      {"normal_interval", {number(r.tails.lower), number(r.tails.upper)}}}},
                    {"specification",
                     {{"values", text_or_null(r.data_line)},
                      {"values_obstacle", text_or_null(r.data_obstacle)},
                      {"by_group", text_or_null(r.group_line)}}},
                    {"simulated_samples", r.draws},
                    {"seed", r.seed}};
  return out.dump(2, ' ', false, nlohmann::ordered_json::error_handler_t::replace) + "\n";
}

}  // namespace mintspread::reports
