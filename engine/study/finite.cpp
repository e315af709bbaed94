#include "engine/study/finite.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <chrono>
#include <cmath>
#include <limits>
#include <mutex>
#include <utility>

#include "engine/sampling/sobol.hpp"
#include "engine/signature/prepared_sensor.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/pipeline.hpp"

namespace mintspread::study {

namespace {

using signature::SideUp;
using signature::StateRange;

/// The pilot: any seed will do as long as it stays.
constexpr std::uint64_t pilot_seed = 20;
constexpr std::size_t nominal_blocks = 8, unknown_centres = 24;

/// Reach of the box: so many standard deviations or so many times the largest deviation of the pilot, whichever is
/// less. A normal spread reaches 3.7 of its standard deviations in the pilot, a uniform one 1.73.
constexpr double reach_in_sd = 5.0, reach_in_extremes = 1.4;
/// Steps of the grid of centres in a half width.
constexpr double centres_in_half_width = 4.0;
/// A smaller spread than this part of the value moves no reading.
constexpr double no_spread = 1e-9;

/// Support points lie normally about the centre, cut at the box. The inner half has the spread of the pieces of a
/// normal production, at most 0.175, or a little more; the outer half holds the surface where pieces are rare.
constexpr double inner_spread = 0.2, outer_spread = 0.35;

/// A thickness of a plating is filled if its standard deviation takes so much of its reach, of which a normal spread
/// takes a fifth and a uniform one two, and if the least of it is so small a part of the most.
constexpr double filled_part = 0.25, worn_part = 1.0 / 3.0;

/// Of the reading's standard deviation: a larger error of a surface would show in the spread.
constexpr double rough_part = 0.1;

struct Column {
  double least = std::numeric_limits<double>::infinity(), largest = -least;
  double sum = 0.0, squares = 0.0;
  std::size_t count = 0;
  void add(double x) {
    if (!std::isfinite(x)) return;
    least = std::min(least, x);
    largest = std::max(largest, x);
    sum += x;
    squares += x * x;
    ++count;
  }
};

/// Up to the next power of the square root of two.
double snapped_up(double x) { return std::exp2(std::ceil(2.0 * std::log2(x)) / 2.0); }

StateRange range_of(const Column& column, double least, bool wears) {
  const double mean = column.sum / static_cast<double>(column.count);
  const double spread = column.largest - column.least;
  if (!(spread > no_spread * std::abs(mean))) return {mean, 0.0, false};
  const double variance = column.squares / static_cast<double>(column.count) - mean * mean;
  const double extreme = std::max(column.largest - mean, mean - column.least);
  const double reach = std::min(reach_in_sd * std::sqrt(std::max(variance, 0.0)), reach_in_extremes * extreme);
  // The grid of centres may move the box by half a step.
  const double wanted = std::max(reach, spread / 2.0) / (1.0 - 0.5 / centres_in_half_width);
  const bool filled = wears && column.least < worn_part * column.largest &&
                      std::sqrt(std::max(variance, 0.0)) > filled_part * std::min(reach, mean - least);
  if (mean > 0.0) {
    const double half_width = snapped_up(wanted / mean), step = half_width / centres_in_half_width;
    const double centre = std::exp(step * std::round(std::log(mean) / step));
    if (half_width < 1.0 && centre * (2.0 - half_width) / (2.0 + half_width) >= least)
      return {centre, half_width, true, filled};
  }
  const double half_width = snapped_up(wanted), step = half_width / centres_in_half_width;
  const double centre = step * std::round(mean / step);
  const double from = std::max(centre - half_width, least), to = centre + half_width;
  return {0.5 * (from + to), 0.5 * (to - from), false, filled};
}

/// Ranges over the pilot of everything the state of a coin tells, lying with `up` up.
std::vector<StateRange> box_of(const Study::Prepared& study, SideUp up, FiniteScope scope) {
  const signature::Sensor& sensor = study.sensor.sensor();
  const signature::DiscState state(study.construction, sensor, up);
  std::vector<Column> columns(state.count());
  Columns written(state.count(), block_lanes);
  std::vector<std::uint8_t> reversed(block_lanes);
  const bool production = scope == FiniteScope::production;
  const auto add = [&](Pipeline& pipeline) {
    const Columns& inputs = pipeline.inputs();
    std::vector<std::span<const double>> recess;
    for (const auto& coil : sensor.coils) recess.push_back(inputs[index(coil.recess)]);
    for (const bool turned : {false, true}) {
      // Both where either side may be up: the heights of the rim swap.
      if (turned && (!production || sensor.slot.side_up != SideUp::either)) continue;
      std::ranges::fill(reversed, std::uint8_t{turned});
      state.write(
          pipeline.coins(),
          {inputs[index(sensor.slot.width)], inputs[index(sensor.slot.play)], inputs[index(sensor.slot.temperature)]},
          reversed, recess, written);
      for (std::size_t column = 0; column < columns.size(); ++column)
        for (const double x : std::as_const(written)[column]) columns[column].add(x);
    }
  };
  if (!production) {
    Pipeline pipeline(study, block_lanes);
    pipeline.form();
    add(pipeline);
  }
  const auto pilot = [&](std::span<const double> centre, std::uint64_t first, std::size_t blocks) {
    Pipeline pipeline(study, block_lanes, centre);
    for (std::size_t block = 0; block < blocks; ++block) {
      pipeline.draw(DrawSource{.seed = pilot_seed}, first + block * block_lanes);
      pipeline.assemble();
      pipeline.form();
      add(pipeline);
    }
  };
  if (production) pilot(study.draws.nominal(), 0, nominal_blocks);
  if (production && !study.draws.unknown().empty()) {
    std::uint64_t first = nominal_blocks * block_lanes;
    for (const auto& centre : study.draws.outer_centres(pilot_seed, unknown_centres)) {
      pilot(centre, first, 1);
      first += block_lanes;
    }
  }
  std::vector<StateRange> box;
  for (std::size_t column = 0; column < columns.size(); ++column)
    box.push_back(range_of(columns[column], state.least(column), state.thickness_of_plating(column)));
  return box;
}

/// The centre and inner Sobol' points, then outer ones; even ones from end to end of what is filled.
std::vector<std::vector<double>> support_points(std::span<const StateRange> box) {
  const auto varying = std::ranges::count_if(box, [](const StateRange& range) { return range.half_width > 0.0; });
  if (varying == 0) return {{}};
  const auto dimensions = static_cast<std::size_t>(varying);
  const std::size_t count = signature::FiniteCoinPlan::points_for(box);
  const std::vector<std::size_t> filled = signature::filled_coordinates(box);
  std::vector<std::vector<double>> points(count, std::vector<double>(dimensions));
  const sampling::SobolPoints sobol(dimensions);
  const boost::math::normal normal;
  std::vector<double> uniforms(count - 1);
  for (std::size_t d = 0; d < dimensions; ++d) {
    sobol.uniforms(sampling::scramble_key(pilot_seed, d, 0, 0), d, 0, uniforms);
    const bool even = std::ranges::binary_search(filled, d);
    for (std::size_t i = 1; i < count; ++i) {
      if (even) {
        points[i][d] = 2.0 * uniforms[i - 1] - 1.0;
        continue;
      }
      const double spread = 2 * i < count ? inner_spread : outer_spread;
      const double tail = boost::math::cdf(normal, -1.0 / spread);
      points[i][d] = spread * boost::math::quantile(normal, tail + (1.0 - 2.0 * tail) * uniforms[i - 1]);
    }
  }
  return points;
}

bool reads_alike_from_both_faces(const coin::Construction& construction) {
  return std::equal(construction.section.begin(), construction.section.end(), construction.section.rbegin());
}

}  // namespace

FinitePreparation::FinitePreparation(const Study& planar, FiniteScope scope) : study_(&planar) {
  const Study::Prepared& study = planar.prepared();
  const SideUp up = study.sensor.sensor().slot.side_up;
  const bool alike = reads_alike_from_both_faces(study.construction);
  for (const SideUp side : {SideUp::obverse, SideUp::reverse}) {
    const bool lies_so = alike ? side == SideUp::obverse : up == SideUp::either || up == side;
    if (lies_so) lying_.push_back({side, box_of(study, side, scope)});
  }
}

signature::FiniteCoinPlan FinitePreparation::plan(const Lying& lying) const {
  return {study_->prepared().sensor.prepared(), lying.up, lying.box, support_points(lying.box)};
}

std::string FinitePreparation::key() const {
  const Study::Prepared& study = study_->prepared();
  const signature::Sensor& sensor = study.sensor.sensor();
  std::string text = fmt::format("rest {}\n", static_cast<int>(sensor.slot.rest));
  for (const std::size_t metal : study.construction.section)
    text += fmt::format("layer {} {}\n", metal, metal == study.construction.core);
  for (const auto& coil : sensor.coils)
    text += fmt::format("coil {} {} {} {} {}\n", static_cast<int>(coil.side), coil.coil.inner_radius,
                        coil.coil.outer_radius, coil.coil.length, coil.coil.turns);
  const signature::PreparedSensor& prepared = study.sensor.prepared();
  // The planar rule is part of it: a surface corrects what that rule gives.
  for (const auto& group : prepared.harmonic) {
    text += fmt::format("pair {} {}: {}\n", group.pair.drive, group.pair.receive, fmt::join(group.frequencies, " "));
    text += fmt::format("tolerance {}\n", group.rule.tolerance);
  }
  for (const auto& group : prepared.decay) {
    text += fmt::format("decay {} {}:", group.pair.drive, group.pair.receive);
    for (const auto& gate : group.gates) text += fmt::format(" {} {} {},", gate.time, gate.width, gate.ramp);
    for (const auto& contour : group.prepared.contours)
      for (const auto& s : contour.plan.s) text += fmt::format(" {} {}", s.real(), s.imag());
    text += "\n";
  }
  for (const Lying& lying : lying_) {
    text += fmt::format("up {}\n", static_cast<int>(lying.up));
    for (const StateRange& range : lying.box)
      text += fmt::format("{} {} {} {}\n", range.centre, range.half_width, range.relative, range.filled);
  }
  return text;
}

std::size_t FinitePreparation::solutions() const {
  std::size_t count = 0;
  for (const Lying& lying : lying_) {
    const auto one = plan(lying);
    count += one.points() * one.frequencies();
  }
  return count;
}

double FinitePreparation::expected_seconds(std::size_t threads) const {
  const auto start = std::chrono::steady_clock::now();
  const auto one = plan(lying_.front());
  one.solve(one.points() - 1);
  const double each = std::chrono::duration<double>(std::chrono::steady_clock::now() - start).count();
  const std::size_t at_once = threads == 0 ? available_threads() : threads;
  return each * static_cast<double>(lying_.size() * one.points()) / static_cast<double>(at_once);
}

signature::FiniteCoins FinitePreparation::solve(const FiniteOptions& options) const {
  signature::FiniteCoins coins;
  std::vector<signature::FiniteCoinPlan> plans;
  std::size_t total = 0;
  for (const Lying& lying : lying_) total += plans.emplace_back(plan(lying)).points();
  std::mutex telling;
  std::size_t done = 0;
  for (std::size_t i = 0; i < plans.size(); ++i) {
    std::vector<signature::FiniteCoinPlan::Solution> solutions(plans[i].points());
    for_each_index(solutions.size(), options.threads, [&](std::size_t point) {
      if (options.stop.stop_requested()) throw Interrupted();
      solutions[point] = plans[i].solve(point);
      const std::lock_guard lock(telling);
      ++done;
      if (options.progress) options.progress(static_cast<double>(done) / static_cast<double>(total));
    });
    (lying_[i].up == SideUp::reverse ? coins.reverse_up : coins.obverse_up) = plans[i].fit(std::move(solutions));
  }
  return coins;
}

std::string FinitePreparation::bytes(const signature::FiniteCoins& coins) {
  std::string all;
  for (const auto& coin : {coins.obverse_up, coins.reverse_up}) {
    const std::string own = coin ? coin->bytes() : std::string();
    all += fmt::format("{}\n", own.size()) + own;
  }
  return all;
}

std::optional<signature::FiniteCoins> FinitePreparation::from_bytes(std::string_view bytes) const {
  const Study::Prepared& study = study_->prepared();
  signature::FiniteCoins coins;
  for (const SideUp up : {SideUp::obverse, SideUp::reverse}) {
    const std::size_t line = bytes.find('\n');
    if (line == std::string_view::npos) return std::nullopt;
    std::size_t size = 0;
    for (const char digit : bytes.substr(0, line)) {
      if (digit < '0' || digit > '9' || size > bytes.size()) return std::nullopt;
      size = 10 * size + static_cast<std::size_t>(digit - '0');
    }
    bytes.remove_prefix(line + 1);
    if (size > bytes.size()) return std::nullopt;
    const auto own = bytes.substr(0, size);
    bytes.remove_prefix(size);
    const auto lying = std::ranges::find(lying_, up, &Lying::up);
    if (own.empty() != (lying == lying_.end())) return std::nullopt;
    if (own.empty()) continue;
    auto coin =
        signature::FiniteCoin::from_bytes(own, signature::DiscState(study.construction, study.sensor.sensor(), up));
    if (!coin || !std::ranges::equal(coin->box(), lying->box)) return std::nullopt;
    (up == SideUp::reverse ? coins.reverse_up : coins.obverse_up) = std::move(coin);
  }
  if (!bytes.empty()) return std::nullopt;
  return coins;
}

std::vector<Problem> rough_surfaces(const Result& result) {
  std::vector<Problem> problems;
  for (const ChannelResult& channel : result.channels) {
    const double sd = channel.reading.sd.value, error = channel.surface_error;
    const double solver = std::sqrt(std::max(0.0, channel.model_error * channel.model_error - error * error));
    if (!(error > rough_part * sd && error > solver)) continue;
    problems.push_back({"sensor.channels." + channel.name,
                        fmt::format("between the {} coins that were solved in their finite size it is off by {:.2g} "
                                    "{}, while it spreads by {:.2g} {}.",
                                    result.provenance.disc_solutions, error, channel.unit, sd, channel.unit),
                        "Narrow what varies most, state parts of a wide range in specifications of their own, or run "
                        "with --planar."});
  }
  return problems;
}

}  // namespace mintspread::study
