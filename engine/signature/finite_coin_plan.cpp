#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/base/problem.hpp"
#include "engine/signature/disc.hpp"
#include "engine/signature/finite_coin.hpp"
#include "engine/signature/prepared_sensor.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;
using statistics::SurfaceDesign;

/// Of a coordinate, for the slopes of the planar values: their rounding, 1e-6 of the value, stays below 2e-5 of a slope
/// and the third derivative below 1e-3 of it.
constexpr double planar_step = 0.05;

/// Rows of the least squares a term: more leave the held-out error where it is.
constexpr double rows_a_term = 3.0;

constexpr std::size_t usual_points = 64, points_a_filled_coordinate = 16;

/// Points farther out than most of the inner ones count less: what a cubic leaves out grows with the fourth power of
/// the distance, and half of that power is taken back for what else is wrong. Measured on the examples: 3 is best.
constexpr double fading = 3.0;

/// Of a complex frequency among those that are solved; their count where it is not one of them.
std::size_t position_of(const std::vector<Complex>& list, Complex s) {
  return static_cast<std::size_t>(std::ranges::find(list, s) - list.begin());
}

}  // namespace

FiniteCoinPlan::FiniteCoinPlan(const PreparedSensor& sensor, SideUp up, std::vector<StateRange> box,
                               std::vector<std::vector<double>> points)
    : sensor_(sensor),
      state_(sensor.construction, sensor.sensor, up),
      box_(std::move(box)),
      points_(std::move(points)) {
  expect(box_.size() == state_.count(), "a range for every column of the state");
  for (std::size_t column = 0; column < box_.size(); ++column)
    if (box_[column].half_width > 0.0) varying_.push_back(column);
  for (const auto& point : points_) expect(point.size() == varying_.size(), "a coordinate for every range");
  const auto add = [&](Complex s) {
    if (position_of(s_, s) == s_.size()) s_.push_back(s);
  };
  for (const HarmonicGroup& group : sensor_.harmonic) std::ranges::for_each(group.s, add);
  for (const DecayGroup& group : sensor_.decay)
    for (const DecayContour& contour : group.prepared.contours) std::ranges::for_each(contour.plan.s, add);
}

std::size_t FiniteCoinPlan::points_for(std::span<const StateRange> box) {
  const auto varies = [](const StateRange& range) { return range.half_width > 0.0; };
  const auto dimensions = static_cast<std::size_t>(std::ranges::count_if(box, varies));
  const auto filled = filled_coordinates(box);
  const statistics::SurfaceTerms terms(dimensions, filled, filled);
  return std::max(usual_points + points_a_filled_coordinate * filled.size(),
                  SurfaceDesign::fewest_points(terms, SurfaceDesign::Slopes::with));
}

std::vector<double> FiniteCoinPlan::state_at(std::span<const double> u) const {
  std::vector<double> state;
  for (const StateRange& range : box_) state.push_back(range.centre);
  for (std::size_t i = 0; i < varying_.size(); ++i) state[varying_[i]] = box_[varying_[i]].value(u[i]);
  return state;
}

/// Planar values of all quantities in every state, quantity by quantity.
std::vector<Complex> FiniteCoinPlan::flat_values(std::span<const std::vector<double>> states) const {
  const std::size_t lanes = (states.size() + 7) / 8 * 8;
  std::vector<Complex> values;
  const auto box_of = [&](const Pair& pair) {
    Box box(state_.flat(states.front(), pair.drive, pair.receive).thickness.size(), lanes);
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const auto flat = state_.flat(states[std::min(lane, states.size() - 1)], pair.drive, pair.receive);
      for (std::size_t layer = 0; layer < flat.thickness.size(); ++layer)
        box.set(lane, layer, flat.thickness[layer], flat.conductivity[layer], flat.permeability[layer]);
      box.distance()[lane] = flat.distance;
    }
    return box;
  };
  for (const HarmonicGroup& group : sensor_.harmonic) {
    const Box box = box_of(group.pair);
    Columns mutual(2 * group.s.size(), lanes);
    mutual_inductance(group.rule, group.s, box.block(), mutual);
    for (std::size_t m = 0; m < group.s.size(); ++m)
      for (std::size_t lane = 0; lane < states.size(); ++lane)
        values.emplace_back(mutual[2 * m][lane], mutual[2 * m + 1][lane]);
  }
  for (const DecayGroup& group : sensor_.decay) {
    const Box box = box_of(group.pair);
    Columns mutual(2 * group.prepared.most_points(), lanes), voltage(group.gates.size(), lanes);
    decay_voltage(group.prepared, box.block(), mutual, voltage);
    for (std::size_t g = 0; g < group.gates.size(); ++g)
      for (std::size_t lane = 0; lane < states.size(); ++lane) values.emplace_back(voltage[g][lane]);
  }
  return values;
}

FiniteCoinPlan::Solution FiniteCoinPlan::solve(std::size_t point) const {
  Solution solution;
  const std::vector<double>& u = points_[point];
  const std::vector<double> state = state_at(u);
  const PlacedDisc placed = state_.place(state);
  DiscOptions options;
  options.error = point == 0;
  options.gradient = true;
  std::vector<DiscSolution> solved;
  for (const Complex& s : s_) {
    solved.push_back(solve_disc(placed.disc, placed.coils, s, options));
    if (solved.back().status == DiscStatus::solved) continue;
    solution.fault = solved.back().fault.empty() ? "the disc solution did not converge" : solved.back().fault;
    return solution;
  }

  std::vector<std::vector<double>> states{state};
  for (std::size_t i = 0; i < varying_.size(); ++i)
    for (const double side : {1.0, -1.0}) {
      std::vector<double> moved(u.begin(), u.end());
      moved[i] += side * planar_step;
      states.push_back(state_at(moved));
    }
  const std::vector<Complex> flat = flat_values(states);

  // A quantity is a sum of mutual inductances of one pair, each with a factor.
  struct Part {
    std::size_t s;
    Complex factor;
  };
  const auto add_quantity = [&](const Pair& pair, std::span<const Part> parts, bool real) {
    const std::size_t between = pair.drive * sensor_.sensor.coils.size() + pair.receive;
    const auto taken = [real](Complex z) { return real ? Complex(z.real()) : z; };
    statistics::SurfaceSample sample{};
    std::vector<Complex> by(state.size());
    double error = 0.0;
    for (const Part& part : parts) {
      const Complex value = part.factor * solved[part.s].mutual[between];
      sample.value += taken(value);
      if (options.error) error += std::norm(value) * solved[part.s].error[between] * solved[part.s].error[between];
      const auto slopes = state_.slopes(solved[part.s].gradients[between]);
      for (std::size_t column = 0; column < by.size(); ++column) by[column] += taken(part.factor * slopes[column]);
    }
    const std::size_t first = solution.samples.size() * states.size();
    sample.reference = flat[first];
    for (std::size_t i = 0; i < varying_.size(); ++i) {
      sample.value_slopes.push_back(by[varying_[i]] * box_[varying_[i]].slope(u[i]));
      sample.reference_slopes.push_back((flat[first + 1 + 2 * i] - flat[first + 2 + 2 * i]) / (2.0 * planar_step));
    }
    if (options.error) solution.error.push_back(std::sqrt(error) / std::abs(sample.value));
    solution.samples.push_back(std::move(sample));
  };
  for (const HarmonicGroup& group : sensor_.harmonic)
    for (const Complex& s : group.s) {
      const Part whole{position_of(s_, s), 1.0};
      add_quantity(group.pair, std::span(&whole, 1), false);
    }
  for (const DecayGroup& group : sensor_.decay)
    for (std::size_t gate = 0; gate < group.gates.size(); ++gate) {
      std::vector<Part> parts;
      for (const DecayContour& contour : group.prepared.contours) {
        const auto at = std::ranges::find(contour.gates, gate);
        if (at == contour.gates.end()) continue;
        const std::size_t count = contour.plan.s.size();
        const auto row = static_cast<std::size_t>(at - contour.gates.begin());
        for (std::size_t m = 0; m < count; ++m)
          parts.push_back({position_of(s_, contour.plan.s[m]), contour.plan.coefficients[row * count + m]});
      }
      add_quantity(group.pair, parts, true);
    }
  return solution;
}

namespace {

/// The coordinates whose part of the surfaces is largest, as many as the rows of the least squares bear cubic terms.
std::vector<std::size_t> bending(const std::vector<statistics::ResponseSurface>& surfaces,
                                 const statistics::SurfaceTerms& quadratic, std::span<const std::size_t> filled,
                                 double rows) {
  const std::size_t dimensions = quadratic.dimensions();
  std::vector<double> weight(dimensions);
  for (const auto& surface : surfaces) {
    std::vector<double> own(dimensions);
    std::size_t term = 1 + dimensions;
    for (std::size_t i = 0; i < dimensions; ++i)
      for (std::size_t j = i; j < dimensions; ++j, ++term) {
        const double size = std::norm(surface.coefficients[term]);
        own[i] += size;
        own[j] += size;
      }
    double sum = 0.0;
    for (const double w : own) sum += w;
    for (std::size_t i = 0; i < dimensions; ++i) weight[i] += sum > 0.0 ? own[i] / sum : 0.0;
  }
  std::vector<std::size_t> order(dimensions);
  for (std::size_t i = 0; i < dimensions; ++i) order[i] = i;
  std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) { return weight[a] > weight[b]; });
  std::vector<std::size_t> chosen(filled.begin(), filled.end());
  for (const std::size_t next : order) {
    if (std::ranges::find(filled, next) != filled.end()) continue;
    const auto k = static_cast<double>(chosen.size() + 1);
    const double terms = static_cast<double>(quadratic.size()) + k * (k + 1.0) * (k + 2.0) / 6.0;
    if (terms * rows_a_term > rows) break;
    chosen.push_back(next);
  }
  std::ranges::sort(chosen);
  return chosen;
}

/// How much each point counts: 1 up to the median distance of the first `inner` from the centre, less beyond. Filled
/// coordinates have no centre.
std::vector<double> fading_weights(std::span<const std::vector<double>> points, std::size_t inner,
                                   std::span<const std::size_t> filled) {
  std::vector<double> distance;
  for (const auto& point : points) {
    double square = 0.0;
    for (std::size_t i = 0; i < point.size(); ++i)
      if (std::ranges::find(filled, i) == filled.end()) square += point[i] * point[i];
    distance.push_back(std::sqrt(square));
  }
  std::vector<double> near(distance.begin(), distance.begin() + static_cast<std::ptrdiff_t>(inner));
  const auto middle = near.begin() + static_cast<std::ptrdiff_t>(inner / 2);
  std::ranges::nth_element(near, middle);
  std::vector<double> weights;
  for (const double d : distance) weights.push_back(d <= *middle ? 1.0 : std::pow(*middle / d, fading));
  return weights;
}

/// Sets to 0 the coefficients of terms that no surface needs: together they move no value by more than a tenth of its
/// held-out error, at the inner points. The constant term stays.
void leave_out(std::vector<statistics::ResponseSurface>& surfaces, const statistics::SurfaceTerms& terms,
               std::span<const std::vector<double>> inner, std::span<const statistics::SurfaceSample> at_centre) {
  std::vector<double> square(terms.size()), values(terms.size());
  for (const auto& point : inner) {
    terms.values(point, values);
    for (std::size_t t = 0; t < values.size(); ++t)
      square[t] += values[t] * values[t] / static_cast<double>(inner.size());
  }
  // Part of the allowance of each surface that a term takes.
  const auto part = [&](std::size_t q, std::size_t t) {
    const auto& surface = surfaces[q];
    const double size = surface.form == statistics::SurfaceForm::ratio ? std::norm(at_centre[q].reference) : 1.0;
    const double allowed = 0.01 * surface.held_out_rms * surface.held_out_rms;
    return std::norm(surface.coefficients[t]) * square[t] * size / allowed;
  };
  std::vector<double> largest(terms.size());
  std::vector<std::size_t> order;
  for (std::size_t t = 1; t < terms.size(); ++t) {
    for (std::size_t q = 0; q < surfaces.size(); ++q) largest[t] = std::max(largest[t], part(q, t));
    order.push_back(t);
  }
  std::ranges::stable_sort(order, [&](std::size_t a, std::size_t b) { return largest[a] < largest[b]; });
  std::vector<double> taken(surfaces.size());
  for (const std::size_t t : order) {
    for (std::size_t q = 0; q < surfaces.size(); ++q) taken[q] += part(q, t);
    // Not a number where an error is 0: then every term stays.
    if (!std::ranges::all_of(taken, [](double sum) { return sum <= 1.0; })) return;
    for (auto& surface : surfaces) surface.coefficients[t] = 0.0;
  }
}

}  // namespace

std::shared_ptr<const FiniteCoin> FiniteCoinPlan::fit(std::vector<Solution> solutions) const {
  expect(solutions.size() == points_.size(), "one solution a support point");
  std::vector<std::vector<double>> points;
  std::vector<const Solution*> sound;
  std::string fault;
  for (std::size_t i = 0; i < solutions.size(); ++i) {
    if (!solutions[i].fault.empty()) {
      if (fault.empty()) fault = solutions[i].fault;
      continue;
    }
    points.push_back(points_[i]);
    sound.push_back(&solutions[i]);
  }
  std::size_t inner = 0;
  for (std::size_t i = 0; 2 * i < solutions.size(); ++i) inner += solutions[i].fault.empty() ? 1u : 0u;
  const std::size_t failed = solutions.size() - sound.size();
  if (10 * failed > solutions.size())
    throw InvalidSpecification({{"sensor",
                                 fmt::format("the finite coin could not be solved for {} of {} coins over the range of "
                                             "this production: {}",
                                             failed, solutions.size(), fault),
                                 "Narrow what varies, or run with --planar."}});
  const std::size_t quantities = sound.front()->samples.size();
  const auto filled = filled_coordinates(box_);
  statistics::SurfaceTerms terms(varying_.size(), filled, filled);
  std::vector<statistics::ResponseSurface> surfaces(quantities);
  // Of each quantity the fit that is best at points it has not seen; earlier ones have the first terms of later ones.
  const auto try_terms = [&](const statistics::SurfaceTerms& tried) {
    for (const auto& weights : {std::vector<double>(), fading_weights(points, inner, filled)}) {
      const SurfaceDesign design(points, SurfaceDesign::Slopes::with, tried, inner, weights);
      for (std::size_t q = 0; q < quantities; ++q) {
        std::vector<statistics::SurfaceSample> samples;
        for (const Solution* solution : sound) samples.push_back(solution->samples[q]);
        auto surface = design.fit(samples);
        if (surfaces[q].coefficients.empty() || surface.held_out_rms < surfaces[q].held_out_rms)
          surfaces[q] = std::move(surface);
        surfaces[q].coefficients.resize(tried.size());
      }
    }
  };
  if (varying_.empty()) {
    for (std::size_t q = 0; q < quantities; ++q)
      surfaces[q] = {.form = statistics::SurfaceForm::direct,
                     .coefficients = {sound.front()->samples[q].value},
                     .support_points = 1};
    return finished(std::move(terms), std::move(surfaces), solutions.front().error, solutions.size(), failed);
  }
  try_terms(terms);
  const double rows = 0.8 * static_cast<double>(points.size() * (1 + varying_.size()));
  if (const auto cubic = bending(surfaces, terms, filled, rows); cubic.size() > filled.size()) {
    terms = statistics::SurfaceTerms(varying_.size(), cubic, filled);
    try_terms(terms);
  }
  leave_out(surfaces, terms, std::span(points).first(inner), sound.front()->samples);
  return finished(std::move(terms), std::move(surfaces), solutions.front().error, solutions.size(), failed);
}

std::shared_ptr<const FiniteCoin> FiniteCoinPlan::finished(statistics::SurfaceTerms terms,
                                                           std::vector<statistics::ResponseSurface> surfaces,
                                                           std::vector<double> solver_error, std::size_t solutions,
                                                           std::size_t failed) const {
  FiniteCoin coin(state_, box_, std::move(terms), std::move(surfaces));
  coin.solver_error_ = std::move(solver_error);
  coin.solver_error_.resize(coin.surfaces_.size(), std::numeric_limits<double>::quiet_NaN());
  coin.solutions_ = solutions;
  coin.failed_ = failed;
  return std::make_shared<const FiniteCoin>(std::move(coin));
}

}  // namespace mintspread::signature
