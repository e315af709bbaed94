#include "engine/study/draw_plan.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <numeric>

#include "engine/base/contract.hpp"
#include "engine/sampling/draws.hpp"
#include "engine/sampling/normal_score.hpp"

namespace mintspread::study {

namespace {

/// Position of the first factor of an input, or the number of factors when it has none.
std::size_t first_factor(const std::vector<Factor>& factors, InputId input) {
  const auto found = std::ranges::find(factors, input, &Factor::input);
  return static_cast<std::size_t>(found - factors.begin());
}

}  // namespace

DrawPlan::DrawPlan(const ProductionModel& model, std::vector<Problem>& problems)
    : order_(model.groups, problems),
      side_address_(sampling::address_of("sensor.slot.side up", 0)),
      side_varies_(model.sensor.slot.side_up == signature::SideUp::either) {
  for (std::size_t i = 0; i < model.inputs.size(); ++i) {
    const Input& input = model.inputs[i];
    const auto id = static_cast<InputId>(i);
    nominal_.push_back(input.nominal);
    if (!input.components.empty()) {
      varying_.push_back(i);
      if (std::isfinite(input.smallest) || std::isfinite(input.largest)) {
        bounds_.emplace(i, Bounds{input.smallest, input.largest});
      }
    }
    if (input.known_to) {
      unknown_.push_back(id);
      belief_.push_back(*input.known_to);
    }
    for (std::size_t c = 0; c < input.components.size(); ++c) {
      const Component& component = input.components[c];
      const std::size_t position = factors_.size();
      factors_.push_back({id, component.level, component.relative, sampling::address_of(input.path, c),
                          sampling::Quantile(component.deviation), component.drift, position});
      if (component.drift) {
        const auto same_campaign = [&](const Factor& other) {
          return other.drift && other.level == component.level && other.drift->level == component.drift->level &&
                 other.drift->units == component.drift->units;
        };
        factors_.back().clock =
            static_cast<std::size_t>(std::ranges::find_if(factors_, same_campaign) - factors_.begin());
      }
    }
  }
  for (const Group& group : model.groups) pieces_of_level_.push_back(group.pieces);
  all_factors_.resize(factors_.size());
  std::iota(all_factors_.begin(), all_factors_.end(), std::size_t{0});
  coordinate_.resize(coordinates());
  std::iota(coordinate_.begin(), coordinate_.end(), std::size_t{0});
  correlate(model, problems);
}

void DrawPlan::correlate(const ProductionModel& model, std::vector<Problem>& problems) {
  std::vector<sampling::RankPair> pairs;
  std::vector<std::string> names;
  const auto position_of = [&](InputId input, const std::string& path) {
    const std::size_t factor = first_factor(factors_, input);
    if (factor == factors_.size()) {
      problems.push_back({path, "'" + model.inputs[index(input)].path + "' does not vary, so nothing can go with it",
                          "give it a tolerance, or remove the correlation"});
      return std::size_t{0};
    }
    if (factors_[factor].drift) {
      problems.push_back({path,
                          "'" + model.inputs[index(input)].path +
                              "' drifts: it goes with the campaign and cannot go with another quantity by a rank",
                          "let both drift over the same campaign, or correlate quantities that do not drift"});
      return std::size_t{0};
    }
    const auto known = std::ranges::find(correlated_, factor);
    const auto position = static_cast<std::size_t>(known - correlated_.begin());
    if (known == correlated_.end()) {
      correlated_.push_back(factor);
      names.push_back(model.inputs[index(input)].path);
    }
    return position;
  };
  const std::size_t before = problems.size();
  for (const RankCorrelation& correlation : model.correlations) {
    const std::size_t first = position_of(correlation.first, correlation.path);
    const std::size_t second = position_of(correlation.second, correlation.path);
    pairs.push_back({first, second, correlation.rank});
    if (problems.size() == before && factors_[correlated_[first]].level != factors_[correlated_[second]].level) {
      problems.push_back({correlation.path,
                          "the two quantities vary at different levels: '" +
                              model.groups[factors_[correlated_[first]].level].name + "' and '" +
                              model.groups[factors_[correlated_[second]].level].name +
                              "', so they have no common unit to be correlated over",
                          "State both `per` the same group."});
    }
  }
  if (pairs.empty() || problems.size() != before) return;
  auto made = sampling::RankCorrelation::make(correlated_.size(), pairs);
  if (const auto* failure = std::get_if<sampling::IndefiniteCorrelation>(&made)) {
    const auto culprit = std::ranges::find_if(pairs, [&](const sampling::RankPair& pair) {
      return pair.first == failure->stated[0].first && pair.second == failure->stated[0].second;
    });
    const std::string& path = model.correlations[static_cast<std::size_t>(culprit - pairs.begin())].path;
    problems.push_back({path, failure->describe(names), failure->remedy(names)});
    return;
  }
  correlation_ = std::get<sampling::RankCorrelation>(std::move(made));
}

void DrawPlan::uniforms(const DrawSource& source, std::size_t f, std::uint64_t first, std::span<double> out) const {
  const bool side = f == factors_.size();
  const std::uint64_t address = side ? side_address_ : factors_[f].address;
  const std::uint64_t pieces = side ? 1 : pieces_of_level_[factors_[f].level];
  const std::size_t coordinate = coordinate_[f] + source.stream * coordinates();
  if (source.design == Design::nested && source.alike && !side) {
    unit_uniforms(source, f, first, out);
  } else if (source.design == Design::nested && !side && factors_[f].drift) {
    drift_uniforms(source, f, first, out);
  } else if (source.design == Design::nested && pieces > 1) {
    unit_uniforms(source, f, first, out);
  } else if (source.points != nullptr && coordinate < source.points->dimensions()) {
    const std::uint64_t key = sampling::scramble_key(source.seed, address, source.stream, source.replicate);
    source.points->uniforms(key, coordinate, first - source.replicate_first, out);
  } else {
    sampling::uniforms(source.seed, address, source.stream, first, out);
  }
}

void DrawPlan::unit_uniforms(const DrawSource& source, std::size_t f, std::uint64_t first,
                             std::span<double> out) const {
  std::vector<std::uint64_t> units(out.size());
  order_.units(source.seed, source.plant, source.alike.value_or(factors_[f].level), first, units);
  for (std::size_t lane = 0; lane < out.size(); ++lane) {
    const bool as_before = lane > 0 && units[lane] == units[lane - 1];
    out[lane] =
        as_before ? out[lane - 1] : sampling::uniform(source.seed, factors_[f].address, source.stream, units[lane]);
  }
}

/// How far the campaign is: even steps from unit to unit, the first of them at a random place below one step, so that
/// over many campaigns every value between 0 and 1 is as likely as in the flat design.
void DrawPlan::drift_uniforms(const DrawSource& source, std::size_t f, std::uint64_t first,
                              std::span<double> out) const {
  const Drift& drift = *factors_[f].drift;
  const std::uint64_t pieces = pieces_of_level_[drift.level], campaign = pieces * drift.units;
  const bool by_unit = factors_[f].level == drift.level;
  const auto steps = static_cast<double>(by_unit ? drift.units : campaign);
  std::vector<std::uint64_t> places(out.size());
  order_.places(source.seed, drift.level, first, places);
  for (std::size_t lane = 0; lane < out.size(); ++lane) {
    const std::uint64_t within = places[lane] % campaign;
    const double start = sampling::uniform(source.seed, factors_[f].address, source.stream, places[lane] / campaign);
    const double step = static_cast<double>(by_unit ? within / pieces : within);
    out[lane] = std::min((step + start) / steps, 1.0 - 0x1p-53);
  }
}

std::vector<std::size_t> DrawPlan::order_coordinates(std::span<const double> importance_of_input) {
  std::vector<double> variance(inputs());
  std::vector<double> importance;
  const auto variance_of = [&](const Factor& factor) {
    const double sd = factor.deviation.sd() * (factor.relative ? nominal_[index(factor.input)] : 1.0);
    return sd * sd;
  };
  for (const Factor& factor : factors_) variance[index(factor.input)] += variance_of(factor);
  for (const Factor& factor : factors_) {
    const std::size_t i = index(factor.input);
    importance.push_back(variance[i] > 0.0 ? importance_of_input[i] * variance_of(factor) / variance[i] : 0.0);
  }
  importance.push_back(std::numeric_limits<double>::infinity());
  std::vector<std::size_t> order(coordinates());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, std::greater{}, [&](std::size_t f) { return importance[f]; });
  for (std::size_t c = 0; c < order.size(); ++c) coordinate_[order[c]] = c;
  return order;
}

void DrawPlan::deviations(const DrawSource& source, std::uint64_t first, Columns& out) const {
  deviations(source, first, all_factors_, out);
  if (side_varies_) uniforms(source, factors_.size(), first, out[factors_.size()]);
}

void DrawPlan::deviations(const DrawSource& source, std::uint64_t first, std::span<const std::size_t> factors,
                          Columns& out) const {
  for (const std::size_t f : factors) {
    if (factors_[f].clock == f) {
      uniforms(source, f, first, out[f]);
    } else {
      std::ranges::copy(out[factors_[f].clock], out[f].begin());
    }
  }
  for (const std::size_t f : factors) {
    if (!factors_[f].drift || !factors_[f].drift->falling) continue;
    for (double& u : out[f]) u = 1.0 - u;
  }
  const bool correlated = !correlated_.empty() && std::ranges::find(factors, correlated_.front()) != factors.end();
  if (correlated) {
    std::vector<std::span<double>> scores;
    for (const std::size_t f : correlated_) {
      sampling::normal_scores(out[f], out[f]);
      scores.push_back(out[f]);
    }
    if (correlation_) correlation_->apply(scores);
  }
  for (const std::size_t f : factors) {
    const sampling::Quantile& deviation = factors_[f].deviation;
    if (std::ranges::find(correlated_, f) == correlated_.end()) {
      deviation.from_uniform(out[f], out[f]);
    } else {
      deviation.from_normal_score(out[f], out[f]);
    }
  }
}

void DrawPlan::assemble(const Columns& deviations, std::span<const double> centre, Columns& out) const {
  assemble(deviations, centre, all_factors_, out);
}

void DrawPlan::assemble(const Columns& deviations, std::span<const double> centre, std::span<const std::size_t> factors,
                        Columns& out) const {
  // Factors of one input stand side by side.
  for (std::size_t i = 0; i < factors.size();) {
    const auto input = index(factors_[factors[i]].input);
    const auto column = out[input];
    std::ranges::fill(column, centre[input]);
    for (; i < factors.size() && index(factors_[factors[i]].input) == input; ++i) {
      const double scale = factors_[factors[i]].relative ? centre[input] : 1.0;
      const auto deviation = deviations[factors[i]];
      for (std::size_t lane = 0; lane < column.size(); ++lane) column[lane] += scale * deviation[lane];
    }
    const auto bounds = bounds_.find(input);
    if (bounds == bounds_.end()) continue;
    const auto [smallest, largest] = bounds->second;
    for (double& value : column)
      value = value >= smallest && value <= largest ? value : std::numeric_limits<double>::quiet_NaN();
  }
}

std::vector<std::size_t> DrawPlan::factors_beside(std::span<const std::size_t> factors) const {
  std::vector<std::size_t> beside;
  for (const std::size_t f : all_factors_) {
    if (std::ranges::any_of(factors, [&](std::size_t g) { return factors_[g].input == factors_[f].input; }))
      beside.push_back(f);
  }
  return beside;
}

void DrawPlan::fill(std::span<const double> centre, Columns& out) const {
  for (std::size_t i = 0; i < centre.size(); ++i) std::ranges::fill(out[i], centre[i]);
}

void DrawPlan::corners(double reach, Columns& out) const {
  fill(nominal_, out);
  // Signs from hashed addresses: every pair of factors meets in all four combinations within a few lanes.
  std::vector<double> coin_toss(out.lanes());
  const auto tosses = [&](std::uint64_t address) { sampling::uniforms(0, address, 0, 0, coin_toss); };
  for (std::size_t u = 0; u < unknown_.size(); ++u) {
    tosses(sampling::address_of("corner", index(unknown_[u])));
    auto column = out[index(unknown_[u])];
    for (std::size_t lane = 1; lane < out.lanes(); ++lane) {
      column[lane] = coin_toss[lane] < 0.5 ? belief_[u].lower : belief_[u].upper;
    }
  }
  std::vector<double> score(out.lanes()), deviation(out.lanes()), centre(out.lanes());
  for (const std::size_t i : varying_) {
    auto column = out[i];
    std::ranges::copy(column, centre.begin());
    for (const Factor& factor : factors_) {
      if (index(factor.input) != i) continue;
      tosses(factor.address);
      for (std::size_t lane = 0; lane < out.lanes(); ++lane) score[lane] = coin_toss[lane] < 0.5 ? -reach : reach;
      factor.deviation.from_normal_score(score, deviation);
      for (std::size_t lane = 1; lane < out.lanes(); ++lane) {
        column[lane] += (factor.relative ? centre[lane] : 1.0) * deviation[lane];
      }
    }
    // Corners lie inside what can be made, so that a wide tolerance does not leave the model without corners.
    const auto bounds = bounds_.find(i);
    if (bounds == bounds_.end()) continue;
    for (double& value : column) value = std::clamp(value, bounds->second.smallest, bounds->second.largest);
  }
}

std::vector<std::vector<double>> DrawPlan::outer_centres(std::uint64_t seed, std::size_t draws) const {
  std::vector<std::vector<double>> centres(draws, nominal_);
  std::vector<double> uniforms((draws + 7) / 8 * 8);
  std::vector<std::size_t> order(draws);
  for (std::size_t u = 0; u < unknown_.size(); ++u) {
    // Latin hypercube (McKay, Beckman & Conover, Technometrics 21, 239, 1979): each range is covered evenly by few
    // draws.
    sampling::uniforms(seed, sampling::address_of("known to", index(unknown_[u])), 0, 0, uniforms);
    for (std::size_t d = 0; d < draws; ++d) order[d] = d;
    std::ranges::sort(order, {}, [&](std::size_t d) { return uniforms[d]; });
    for (std::size_t d = 0; d < draws; ++d) {
      const double part = (static_cast<double>(order[d]) + uniforms[d]) / static_cast<double>(draws);
      centres[d][index(unknown_[u])] = belief_[u].lower + part * (belief_[u].upper - belief_[u].lower);
    }
  }
  return centres;
}

std::vector<std::vector<std::size_t>> DrawPlan::correlated_blocks() const {
  std::vector<std::vector<std::size_t>> blocks;
  if (!correlated_.empty()) blocks.push_back(correlated_);
  for (std::size_t f = 0; f < factors_.size(); ++f) {
    std::vector<std::size_t> together;
    for (std::size_t g = f; g < factors_.size(); ++g) {
      if (factors_[g].drift && factors_[g].clock == f) together.push_back(g);
    }
    if (together.size() > 1) blocks.push_back(std::move(together));
  }
  return blocks;
}

double DrawPlan::spread_of(InputId input) const {
  double variance = 0.0;
  for (const Factor& factor : factors_) {
    if (factor.input != input) continue;
    const double sd = factor.deviation.sd() * (factor.relative ? nominal_[index(input)] : 1.0);
    variance += sd * sd;
  }
  return std::sqrt(variance);
}

std::vector<DrawPlan::LevelPart> DrawPlan::variance_by_level(InputId input) const {
  const double total = spread_of(input) * spread_of(input);
  std::vector<LevelPart> parts;
  for (const Factor& factor : factors_) {
    if (factor.input != input || !(total > 0.0)) continue;
    const double sd = factor.deviation.sd() * (factor.relative ? nominal_[index(input)] : 1.0);
    parts.push_back({factor.level, sd * sd / total});
  }
  return parts;
}

double DrawPlan::mean_of(InputId input) const {
  double mean = nominal_[index(input)];
  for (const Factor& factor : factors_) {
    if (factor.input != input) continue;
    mean += factor.deviation.mean() * (factor.relative ? nominal_[index(input)] : 1.0);
  }
  return mean;
}

}  // namespace mintspread::study
