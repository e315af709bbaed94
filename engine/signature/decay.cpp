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

struct Span {
  double earliest = std::numeric_limits<double>::infinity(), latest = 0;
  void add(const DecayGate& gate) {
    earliest = std::min(earliest, gate.earliest());
    latest = std::max(latest, gate.latest());
  }
  double ratio() const { return latest / earliest; }
};

/// Sets of consecutive gates (in `order`, by time) whose contours need the fewest points in all: the first gate of
/// every set.
std::vector<std::size_t> split(std::span<const DecayGate> gates, std::span<const std::size_t> order, double accuracy) {
  const std::size_t count = gates.size();
  std::vector<std::size_t> points(count + 1, 0), begin(count + 1, 0);
  for (std::size_t end = 1; end <= count; ++end) {
    points[end] = std::numeric_limits<std::size_t>::max();
    Span times;
    for (std::size_t first = end; first-- > 0;) {
      times.add(gates[order[first]]);
      const std::size_t total = points[first] + points_for(times.ratio(), accuracy);
      // Equal counts go to the longer set: fewer contours round fewer numbers.
      if (total <= points[end]) {
        points[end] = total;
        begin[end] = first;
      }
    }
  }
  std::vector<std::size_t> starts;
  for (std::size_t end = count; end > 0; end = begin[end]) starts.push_back(begin[end]);
  std::reverse(starts.begin(), starts.end());
  return starts;
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
  expect(accuracy > 0 && accuracy < 1, "plan_decay: accuracy lies between 0 and 1");
  DecayPlan plan;
  plan.gates = gates.size();
  if (gates.empty()) return plan;
  std::vector<std::size_t> order(gates.size());
  std::iota(order.begin(), order.end(), std::size_t{0});
  std::stable_sort(order.begin(), order.end(),
                   [&](auto a, auto b) { return gates[a].earliest() < gates[b].earliest(); });

  std::vector<Complex> weights;                  // of the points of all contours: s'(u) h / (pi i)
  std::vector<std::size_t> owner(gates.size());  // contour of each gate
  std::vector<std::size_t> first_point{0};
  const std::vector<std::size_t> starts = split(gates, order, accuracy);
  for (std::size_t c = 0; c < starts.size(); ++c) {
    Span times;
    for (std::size_t g = starts[c]; g < (c + 1 < starts.size() ? starts[c + 1] : order.size()); ++g) {
      times.add(gates[order[g]]);
      owner[order[g]] = c;
    }
    const Hyperbola shape = hyperbola(times.ratio());
    const std::size_t count = points_for(times.ratio(), accuracy);
    const double points = static_cast<double>(count);
    const double spacing = shape.spacing_times_points / points;
    const double scale = (4 * pi * shape.alpha - pi * pi) / shape.spacing_times_points * points / times.latest;
    for (std::size_t k = 0; k < count; ++k) {
      const Complex angle(-shape.alpha, (static_cast<double>(k) + 0.5) * spacing);
      plan.s.push_back(scale * (1.0 + std::sin(angle)));
      weights.push_back(scale * std::cos(angle) * spacing / pi);
    }
    first_point.push_back(plan.s.size());
  }

  plan.coefficients.assign(gates.size() * plan.s.size(), 0.0);
  for (std::size_t g = 0; g < gates.size(); ++g) {
    const DecayGate& gate = gates[g];
    for (std::size_t m = first_point[owner[g]]; m < first_point[owner[g] + 1]; ++m) {
      const Complex s = plan.s[m];
      // Both factors are written from the earliest instant on, so that nothing overflows far out on the contour.
      plan.coefficients[g * plan.s.size() + m] =
          -weights[m] * std::exp(s * gate.earliest()) * expm1_over(s * gate.width) * expm1_over(s * gate.ramp);
    }
  }
  return plan;
}

void decay_voltage(const DecayPlan& plan, const Columns& mutual, Columns& out) {
  for (std::size_t g = 0; g < plan.gates; ++g) {
    const std::span<double> voltage = out[g];
    std::fill(voltage.begin(), voltage.end(), 0.0);
    for (std::size_t m = 0; m < plan.s.size(); ++m) {
      const Complex coefficient = plan.coefficients[g * plan.s.size() + m];
      if (coefficient == 0.0) continue;
      const std::span<const double> re = mutual[2 * m], im = mutual[2 * m + 1];
      for (std::size_t lane = 0; lane < voltage.size(); ++lane)
        voltage[lane] += coefficient.real() * re[lane] - coefficient.imag() * im[lane];
    }
  }
}

namespace {

/// Voltages over the box, with gates in columns.
Columns box_voltages(const DecayPlan& plan, const PlanarRule& rule, const PlanarBlock& box) {
  Columns mutual(2 * plan.s.size(), box.lanes()), voltages(plan.gates, box.lanes());
  mutual_inductance(rule, plan.s, box, mutual);
  decay_voltage(plan, mutual, voltages);
  return voltages;
}

/// What plans and rules are measured against: every gate on a contour of its own, with a fine rule of its own.
class Referee {
 public:
  Referee(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const DecayGate> gates,
          const PlanarBlock& box)
      : gates_(gates), box_(box), expected_(gates.size(), box.lanes()) {
    for (std::size_t g = 0; g < gates.size(); ++g) {
      const DecayPlan plan = plan_decay(gates.subspan(g, 1), 1e-12);
      const Columns one = box_voltages(plan, make_rule(drive, receive, coupling, plan.s, box, 1e-10), box);
      std::copy(one[0].begin(), one[0].end(), expected_[g].begin());
    }
    shared_ = std::sqrt(self_inductance(drive) * self_inductance(receive));
  }

  double error(const DecayPlan& plan, const PlanarRule& rule) const {
    const Columns voltages = box_voltages(plan, rule, box_);
    double largest_error = 0;
    for (std::size_t lane = 0; lane < box_.lanes(); ++lane) {
      double largest = 0;
      for (std::size_t g = 0; g < gates_.size(); ++g) largest = std::max(largest, std::abs(expected_[g][lane]));
      for (std::size_t g = 0; g < gates_.size(); ++g) {
        const double value = expected_[g][lane];
        const double scale = std::max({std::abs(value), 1e-6 * largest, 1e-8 * shared_ / gates_[g].earliest()});
        largest_error = std::max(largest_error, std::abs(voltages[g][lane] - value) / scale);
      }
    }
    return largest_error;
  }

 private:
  std::span<const DecayGate> gates_;
  const PlanarBlock& box_;
  Columns expected_;
  double shared_;  ///< H, what the coils would share if the field were all common: the scale of through-transmission
};

}  // namespace

PreparedDecay prepare_decay(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const DecayGate> gates,
                            const PlanarBlock& box) {
  expect(!gates.empty(), "prepare_decay: at least one gate");
  const Referee referee(drive, receive, coupling, gates, box);
  constexpr double allowed = 1e-4 / 3;  // the box does not hold every coin
  PreparedDecay best;
  best.error = std::numeric_limits<double>::infinity();
  for (const double accuracy : {1e-7, 1e-8, 1e-9, 1e-10, 1e-11}) {
    const DecayPlan plan = plan_decay(gates, accuracy);
    const auto attempt = [&](double tolerance) {
      PreparedDecay candidate{plan, make_rule(drive, receive, coupling, plan.s, box, tolerance), 0.0};
      candidate.error = referee.error(plan, candidate.rule);
      return candidate;
    };
    PreparedDecay coarse = attempt(1e-6);
    if (coarse.error <= allowed) return coarse;
    // The finest rule tells whether the contour or the coarse rule is to blame.
    PreparedDecay fine = attempt(1e-9);
    if (fine.error <= allowed) {
      for (const double tolerance : {1e-7, 1e-8})
        if (PreparedDecay middle = attempt(tolerance); middle.error <= allowed) return middle;
      return fine;
    }
    if (fine.error < best.error) best = std::move(fine);
  }
  return best;
}

}  // namespace mintspread::signature
