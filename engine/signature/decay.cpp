#include "engine/signature/decay.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::signature {
namespace {

using Complex = std::complex<double>;

constexpr double earliest_gate = 1e-6;
constexpr double latest_gate = 10e-3;
// Times that differ by rounding only must not decide: 1 us + 0.5 us - 0.5 us is 1 us.
constexpr double time_slack = 1e-12;

/// (e^z - 1)/z without cancellation for small |z|.
Complex expm1_over(Complex z) {
  if (std::abs(z) < 1e-8) return 1.0 + z / 2.0;
  const double half_sine = std::sin(z.imag() / 2);
  const Complex difference(std::expm1(z.real()) * std::cos(z.imag()) - 2 * half_sine * half_sine,
                           std::exp(z.real()) * std::sin(z.imag()));
  return difference / z;
}

/// Parameters of the hyperbola for times in [t0, ratio t0] (Weideman & Trefethen 2007, section 4, from memory).
struct Hyperbola {
  double alpha, spacing_times_points, rate;
};

Hyperbola hyperbola(double ratio) {
  Hyperbola best{0, 0, 0};
  for (double alpha = 0.79; alpha < 1.57; alpha += 0.005) {
    const double a = std::acosh(((pi - 2 * alpha) * ratio + 4 * alpha - pi) / ((4 * alpha - pi) * std::sin(alpha)));
    const double rate = (pi * pi - 2 * pi * alpha) / a;
    if (rate > best.rate) best = {alpha, a, rate};
  }
  return best;
}

/// Points that times with this ratio need.
std::size_t points_for(double ratio, double accuracy) {
  return static_cast<std::size_t>(std::max(4.0, std::ceil(std::log(1 / accuracy) / hyperbola(ratio).rate)));
}

/// Latest over earliest time of some gates.
struct Reach {
  double earliest = std::numeric_limits<double>::infinity(), latest = 0;
  void add(const DecayGate& gate) {
    earliest = std::min(earliest, gate.earliest());
    latest = std::max(latest, gate.latest());
  }
  double ratio() const { return latest / earliest; }
};

void add_voltage(const DecayPlan& plan, std::size_t gate, const Columns& mutual, std::span<double> voltage) {
  std::ranges::fill(voltage, 0.0);
  for (std::size_t m = 0; m < plan.s.size(); ++m) {
    const Complex coefficient = plan.coefficients[gate * plan.s.size() + m];
    const std::span<const double> re = mutual[2 * m], im = mutual[2 * m + 1];
    for (std::size_t lane = 0; lane < voltage.size(); ++lane)
      voltage[lane] += coefficient.real() * re[lane] - coefficient.imag() * im[lane];
  }
}

}  // namespace

std::vector<Problem> check_gate(const DecayGate& gate, const std::string& path) {
  if (!(gate.time > 0) || !(gate.width >= 0) || !(gate.ramp >= 0) || !std::isfinite(gate.time + gate.width + gate.ramp))
    return {{path, "the gate's time must be positive, its width and the ramp not negative",
             "Give `time` from the instant the current begins to fall to the centre of the gate."}};
  const double start = gate.time - gate.width / 2;
  if (start < gate.ramp - time_slack)
    return {{path, "the gate begins before the ramp of the current has ended, where the falling field itself is read",
             "Move `time` later, or make `width` or `ramp` shorter: time - width/2 must be at least ramp + 1 us."}};
  if (gate.earliest() < earliest_gate - time_slack)
    return {{path,
             "the gate begins less than 1 us after the current has come to rest, where the voltage grows without bound",
             "Move `time` later, or make `width` or `ramp` shorter: time - width/2 must be at least ramp + 1 us."}};
  if (gate.latest() > latest_gate + time_slack)
    return {{path, "the gate ends later than 10 ms, where nothing is left of the decay of a coin",
             "Move `time` earlier or make `width` shorter."}};
  return {};
}

DecayPlan plan_decay(std::span<const DecayGate> gates, double accuracy) {
  expect(!gates.empty() && accuracy > 0 && accuracy < 1, "plan_decay: gates, and an accuracy between 0 and 1");
  Reach times;
  for (const DecayGate& gate : gates) times.add(gate);
  const Hyperbola shape = hyperbola(times.ratio());
  const std::size_t count = points_for(times.ratio(), accuracy);
  const double points = static_cast<double>(count), spacing = shape.spacing_times_points / points;
  const double scale = (4 * pi * shape.alpha - pi * pi) / shape.spacing_times_points * points / times.latest;

  DecayPlan plan;
  plan.gates = gates.size();
  std::vector<Complex> weights;  // s'(u) h / (pi i)
  for (std::size_t k = 0; k < count; ++k) {
    const Complex angle(-shape.alpha, (static_cast<double>(k) + 0.5) * spacing);
    plan.s.push_back(scale * (1.0 + std::sin(angle)));
    weights.push_back(scale * std::cos(angle) * spacing / pi);
  }
  for (const DecayGate& gate : gates)
    for (std::size_t m = 0; m < count; ++m) {
      // Both factors are written from the earliest instant on, so that nothing overflows far out on the contour.
      const Complex s = plan.s[m];
      plan.coefficients.push_back(-weights[m] * std::exp(s * gate.earliest()) * expm1_over(s * gate.width) *
                                  expm1_over(s * gate.ramp));
    }
  return plan;
}

void decay_voltage(const DecayPlan& plan, const Columns& mutual, Columns& out) {
  for (std::size_t g = 0; g < plan.gates; ++g) add_voltage(plan, g, mutual, out[g]);
}

std::size_t PreparedDecay::most_points() const {
  std::size_t most = 0;
  for (const DecayContour& contour : contours) most = std::max(most, contour.plan.s.size());
  return most;
}

void decay_voltage(const PreparedDecay& prepared, const PlanarBlock& block, Columns& mutual, Columns& out) {
  for (const DecayContour& contour : prepared.contours) {
    mutual_inductance(contour.rule, contour.plan.s, block, mutual);
    for (std::size_t g = 0; g < contour.gates.size(); ++g) add_voltage(contour.plan, g, mutual, out[contour.gates[g]]);
  }
}

namespace {

constexpr double allowed_error = 1e-4 / 3;  // the box does not hold every coin

/// Every so many lanes of a block, in whole vectors; the last lane is repeated.
class Thinned {
 public:
  Thinned(const PlanarBlock& block, std::size_t every)
      : columns_(3 * block.layers.size() + 1, (block.lanes() / every + 7) / 8 * 8) {
    const auto copy = [&](std::size_t column, std::span<const double> from) -> std::span<const double> {
      for (std::size_t lane = 0; lane < columns_.lanes(); ++lane)
        columns_[column][lane] = from[std::min(lane * every, from.size() - 1)];
      return columns_[column];
    };
    for (std::size_t i = 0; i < block.layers.size(); ++i)
      layers_.push_back({copy(3 * i, block.layers[i].thickness), copy(3 * i + 1, block.layers[i].conductivity),
                         copy(3 * i + 2, block.layers[i].permeability)});
    distance_ = copy(3 * block.layers.size(), block.distance);
  }
  PlanarBlock block() const { return {layers_, distance_}; }

 private:
  Columns columns_;
  std::vector<LayerColumns> layers_;
  std::span<const double> distance_;
};

/// What plans and rules are measured against: every gate on a contour of its own, with one fine rule for all of them.
class Referee {
 public:
  Referee(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const DecayGate> gates,
          const PlanarBlock& rule_box, const PlanarBlock& box)
      : gates_(gates), box_(box), expected_(gates.size(), box.lanes()), scale_(gates.size(), box.lanes()) {
    PreparedDecay fine;
    std::vector<Complex> s;
    for (std::size_t g = 0; g < gates.size(); ++g) {
      fine.contours.push_back({{g}, plan_decay(gates.subspan(g, 1), 1e-12), {}});
      s.insert(s.end(), fine.contours.back().plan.s.begin(), fine.contours.back().plan.s.end());
    }
    const PlanarRule rule = make_rule(drive, receive, coupling, s, rule_box, 1e-10);
    for (DecayContour& contour : fine.contours) contour.rule = rule;
    Columns mutual(2 * s.size(), box.lanes());
    decay_voltage(fine, box, mutual, expected_);

    const double shared = std::sqrt(self_inductance(drive) * self_inductance(receive));
    mutual_inductance(rule, s, box, mutual);
    needed_.assign(gates.size(), 1.0);
    for (std::size_t lane = 0; lane < box.lanes(); ++lane) {
      double most = 0, mutual_most = 0;
      for (std::size_t g = 0; g < gates.size(); ++g) most = std::max(most, std::abs(expected_[g][lane]));
      for (std::size_t m = 0; m < s.size(); ++m)
        mutual_most = std::max(mutual_most, std::hypot(mutual[2 * m][lane], mutual[2 * m + 1][lane]));
      for (std::size_t g = 0; g < gates.size(); ++g) {
        const double time = gates[g].earliest();
        scale_[g][lane] = std::max({std::abs(expected_[g][lane]), 1e-6 * most, 1e-8 * shared / time});
        needed_[g] = std::min(needed_[g], allowed_error * scale_[g][lane] * time / mutual_most);
      }
    }
  }

  /// Accuracy, as plan_decay has it, at which the gate is right in every lane.
  double needed(std::size_t gate) const { return needed_[gate]; }

  /// Largest error of the contour's gates over the box.
  double error(const DecayContour& contour) const {
    Columns mutual(2 * contour.plan.s.size(), box_.lanes()), voltage(contour.gates.size(), box_.lanes());
    mutual_inductance(contour.rule, contour.plan.s, box_, mutual);
    decay_voltage(contour.plan, mutual, voltage);
    double largest = 0;
    for (std::size_t g = 0; g < contour.gates.size(); ++g)
      for (std::size_t lane = 0; lane < box_.lanes(); ++lane)
        largest = std::max(
            largest, std::abs(voltage[g][lane] - expected_[contour.gates[g]][lane]) / scale_[contour.gates[g]][lane]);
    return largest;
  }

 private:
  std::span<const DecayGate> gates_;
  const PlanarBlock& box_;
  Columns expected_, scale_;
  std::vector<double> needed_;
};

struct GateSet {
  std::vector<std::size_t> gates;
  double accuracy = 1;
};

/// Sets of consecutive gates whose contours need the fewest points in all.
std::vector<GateSet> split(std::span<const DecayGate> gates, const Referee& referee) {
  const std::size_t count = gates.size();
  std::vector<std::size_t> order(count);
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::ranges::stable_sort(order, {}, [&](std::size_t g) { return gates[g].earliest(); });
  std::vector<std::size_t> points(count + 1, 0), begin(count + 1, 0);
  for (std::size_t end = 1; end <= count; ++end) {
    points[end] = std::numeric_limits<std::size_t>::max();
    Reach times;
    double accuracy = 1;
    for (std::size_t first = end; first-- > 0;) {
      times.add(gates[order[first]]);
      accuracy = std::min(accuracy, referee.needed(order[first]));
      const std::size_t total = points[first] + points_for(times.ratio(), accuracy);
      if (total > points[end]) continue;
      points[end] = total;
      begin[end] = first;
    }
  }
  std::vector<GateSet> sets;
  for (std::size_t end = count; end > 0; end = begin[end]) {
    GateSet& set = sets.emplace_back();
    for (std::size_t i = begin[end]; i < end; ++i) {
      set.gates.push_back(order[i]);
      set.accuracy = std::min(set.accuracy, referee.needed(order[i]));
    }
  }
  std::ranges::reverse(sets);
  return sets;
}

}  // namespace

PreparedDecay prepare_decay(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const DecayGate> gates,
                            const PlanarBlock& box) {
  expect(!gates.empty(), "prepare_decay: at least one gate");
  // Rules are made for a part of many corners, which saves most of the time, and checked in all of them.
  const Thinned part(box, box.lanes() >= 64 ? 4 : 1);
  const Referee referee(drive, receive, coupling, gates, part.block(), box);
  PreparedDecay prepared;
  prepared.gates = gates.size();
  for (const GateSet& set : split(gates, referee)) {
    std::vector<DecayGate> own;
    for (const std::size_t g : set.gates) own.push_back(gates[g]);
    DecayContour best;
    double error = std::numeric_limits<double>::infinity();
    for (const double finer : {1.0, 0.1, 1e-2, 1e-3, 1e-4}) {
      const DecayPlan plan = plan_decay(own, std::max(1e-13, finer * set.accuracy));
      double before = std::numeric_limits<double>::infinity();
      for (const double tolerance : {1e-4, 1e-5, 1e-6, 1e-7, 1e-8, 1e-9}) {
        DecayContour contour{set.gates, plan, make_rule(drive, receive, coupling, plan.s, part.block(), tolerance)};
        const double found = referee.error(contour);
        if (found < error) {
          error = found;
          best = std::move(contour);
        }
        // Where a finer rule does not help it is the contour that has to get finer.
        if (error <= allowed_error || found > 0.5 * before) break;
        before = found;
      }
      if (error <= allowed_error) break;
    }
    prepared.error = std::max(prepared.error, error);
    prepared.contours.push_back(std::move(best));
  }
  return prepared;
}

}  // namespace mintspread::signature
