#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>

namespace mintspread::materials {

// Steps that stand for a function of z from 0 to 1 by its moments.

/// h[n] = (n + 1) INT f z^n dz over z from 0 to 1. Of steps with the values v it is v[last] + SUM (v[j] - v[j + 1])
/// edge[j]^(n + 1), so that steps with given moments are a Gauss rule of -df: edges its nodes.
template <std::size_t count>
using Moments = std::array<double, count>;

struct TwoSteps {
  double edge;
  std::array<double, 2> value;
};
/// Edges that leave no room for a step, as of a quantity that does not change, are moved inwards.
inline TwoSteps two_steps(const Moments<3>& h) {
  const double change = h[1] - h[0], found = (h[2] - h[1]) / change;
  const double edge = found > 0.02 ? std::min(found, 0.98) : 0.02;
  const double fall = change / (edge * edge - edge), last = h[0] - fall * edge;
  return {edge, {last + fall, last}};
}

using ThreeValues = std::array<double, 3>;
inline ThreeValues three_values(const std::array<double, 2>& edge, const Moments<3>& h) {
  const double first = h[1] - h[0], second = h[2] - h[1], apart = edge[1] - edge[0];
  const double inner = (edge[1] * first - second) / (edge[0] * (edge[0] - 1.0) * apart);
  const double outer = (second - edge[0] * first) / (edge[1] * (edge[1] - 1.0) * apart);
  const double last = h[0] - inner * edge[0] - outer * edge[1];
  return {last + outer + inner, last + outer, last};
}

/// The edges of three steps, from five moments of a quantity that rises or falls all along.
inline std::array<double, 2> three_step_edges(const Moments<5>& h) {
  const double a = h[1] - h[0], b = h[2] - h[1], c = h[3] - h[2], d = h[4] - h[3];
  const double size = b * b - a * c, half = 0.5 * (b * c - a * d) / size, product = (c * c - b * d) / size;
  const double root = std::sqrt(half * half - product);
  return {half - root, half + root};
}

/// Values that are moved towards their mean until none is below a fiftieth of it, as of metals so unlike that their
/// moments are not those of a conductor.
template <std::size_t count>
void keep_conducting(std::array<double, count>& values, double mean) {
  const double least = *std::ranges::min_element(values);
  if (least >= 0.02 * mean) return;
  const double part = 0.98 * mean / (mean - least);
  for (double& value : values) value = mean + part * (value - mean);
}

/// (n + 1) INT f z^n dz for n below `count` over many cells.
template <std::size_t count, class Function>
Moments<count> moments_of(const Function& f) {
  constexpr int samples = 256;
  Moments<count> h{};
  for (int i = 0; i < samples; ++i) {
    const double z = (i + 0.5) / samples;
    double term = f(z) / samples;
    for (std::size_t n = 0; n < count; ++n) {
      h[n] += static_cast<double>(n + 1) * term;
      term *= z;
    }
  }
  return h;
}

}  // namespace mintspread::materials
