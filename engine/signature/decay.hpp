#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"
#include "engine/signature/planar.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

// A drive current of 1 A flows until t = 0 and then falls to zero, at once or as a linear ramp; the receive coil shows
// v(t) = -L^-1{M(s)}(t), t > 0, where M is the mutual inductance (change against air, or total) and Z = s M. M(inf),
// the coin as a perfect conductor, is an impulse while the current falls and does not belong to a gate. Averaging over
// a gate of width w and a ramp of duration r are exact factors (e^{sw/2} - e^{-sw/2})/(sw) and (1 - e^{-sr})/(sr).

/// A gate and the ramp before it, times from the instant the current begins to fall, s.
struct DecayGate {
  double time;   ///< centre
  double width;  ///< 0 samples at `time`
  double ramp;   ///< 0 is an ideal step

  double earliest() const {
    return time - width / 2 - ramp;
  }  ///< shortest time between a change of current and the gate
  double latest() const { return time + width / 2; }
  bool operator==(const DecayGate&) const = default;
};

/// What is wrong with a gate: it begins before the ramp ends or within 1 us of that, where a decay has no start to
/// speak of (v grows as t^-1/2); it ends after 10 ms; a time that is not a positive number.
std::vector<Problem> check_gate(const DecayGate& gate, const std::string& path);

/// Gate voltages as linear functionals of M at a few complex frequencies, shared by all gates:
/// v(gate) = sum over m of Re[coefficients[gate * s.size() + m] * M(s[m])].
struct DecayPlan {
  std::size_t gates = 0;
  std::vector<std::complex<double>> s;             ///< upper half-plane, 1/s; conjugates are implied
  std::vector<std::complex<double>> coefficients;  ///< 1/s, gates x s
};

/// One hyperbolic contour s = mu (1 + sin(iu - alpha)) with the parameters of Weideman & Trefethen, Parabolic and
/// hyperbolic contours for computing the Bromwich integral, Math. Comp. 76, 1341 (2007) (from memory), which serves all
/// times in [t0, t1] with an error that falls as exp(-B N), B depending on t1/t0 and N the points in the upper
/// half-plane. `accuracy` is the error of t v(t) relative to the largest |M|. Gates must pass check_gate.
DecayPlan plan_decay(std::span<const DecayGate> gates, double accuracy);

/// Voltage per ampere in every lane. `mutual` as mutual_inductance writes it for plan.s; column g of `out` belongs to
/// gate g.
void decay_voltage(const DecayPlan& plan, const Columns& mutual, Columns& out);

/// Gates that share a contour, with a quadrature rule for its frequencies.
struct DecayContour {
  std::vector<std::size_t> gates;  ///< positions among the gates of the pair of coils
  DecayPlan plan;
  PlanarRule rule;
};

/// All gates of one pair of coils.
struct PreparedDecay {
  std::size_t gates = 0;
  std::vector<DecayContour> contours;
  /// Largest error found over the box, relative to the largest of |v|, 1e-6 of the largest |v| of any gate, and 1e-8
  /// sqrt(L1 L2)/t. The last term matters for through-transmission only, where early voltages vanish below any
  /// measurement.
  double error = 0.0;

  std::size_t most_points() const;  ///< of any contour
};

/// What the gates need: one contour, or a few where fewer points in all serve early and late gates apart, because a
/// late gate asks for more digits of a larger M. The smallest plans and rules whose voltages agree, over the lanes of
/// `box`, with gate-by-gate contours on a finer rule to a third of 1e-4. `error` tells what was reached when even the
/// finest do not.
PreparedDecay prepare_decay(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const DecayGate> gates,
                            const PlanarBlock& box);

/// Voltage per ampere in every lane: column g of `out` belongs to gate g. `mutual` is scratch of 2 most_points()
/// columns. No allocation, no throw; a lane with NaN gives NaN.
void decay_voltage(const PreparedDecay& prepared, const PlanarBlock& block, Columns& mutual, Columns& out);

}  // namespace mintspread::signature
