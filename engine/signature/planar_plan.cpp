#include "engine/signature/planar_plan.hpp"

#include <algorithm>
#include <cmath>

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;

/// Parts of the tolerance: what a series may leave out, what a half-space may, and what all shortcuts together may.
constexpr double series_part = 1e-3, faint_part = 1e-8, opaque_part = 0.03, all_parts = 0.3;

/// |M| over its value for |rho| = 1 that plans count on; a lane with less is computed again.
constexpr double usual = 0.3;

SeriesTable make_table(Complex s) {
  SeriesTable table;
  Complex power = 1.0;
  double factorial = 1.0;  // (2 n)!
  for (std::size_t n = 0; n <= most_terms; ++n) {
    const double order = 2.0 * static_cast<double>(n), half = static_cast<double>(n);
    const double odd = factorial * (order + 1.0);  // (2 n + 1)!
    const double odd1 = odd * (order + 2.0) * (order + 3.0);
    const double odd2 = odd1 * (order + 4.0) * (order + 5.0);
    table.c[n] = power / factorial;
    table.s[n] = power / odd;
    table.s1[n] = power * (half + 1.0) / odd1;
    table.s2[n] = power * (half + 1.0) * (half + 2.0) / odd2;
    factorial = odd * (order + 2.0);
    power *= s;
  }
  return table;
}

/// Terms after the first that keep the remainder of cosh sqrt q below `left_out` of it; more than most_terms: too many.
int terms_for(double size, double left_out) {
  if (size <= 0.0) return 2;
  double term = std::max(1.0, 1.0 / size);  // a weak layer may be all there is
  for (int n = 0; n <= most_terms; ++n) {
    term *= size / ((2.0 * n + 1.0) * (2.0 * n + 2.0));
    if (term <= left_out) return std::max(n, 2);
  }
  return most_terms + 1;
}

constexpr std::size_t followed = 5;  // degree in u to which remainders are followed

/// Power series in u with non-negative coefficients that are never below the moduli of the true ones in any lane.
using Majorant = std::array<double, followed + 1>;

void add_product(Majorant& to, const Majorant& a, std::size_t kept, const Majorant& b, std::size_t degree) {
  for (std::size_t i = 0; i <= std::min(degree, kept); ++i)
    for (std::size_t j = 0; i + j <= degree; ++j) to[i + j] += a[i] * b[j];
}

struct MajorantLayer {
  Majorant c{}, m{}, d{};
};

MajorantLayer majorant_layer(const LayerRange& range, double frequency) {
  // C^(n)(q) / n! <= cosh sqrt |q| / (2 n)! and S^(n)(q) / n! <= sinh sqrt |q| / sqrt |q| / (2 n + 1)!
  const double root = std::sqrt(frequency * range.square);
  const double cosh = std::cosh(root), sinhc = root > 1e-3 ? std::sinh(root) / root : 1.0 + root * root;
  MajorantLayer layer;
  double even = 1.0, below = 0.0;
  for (std::size_t n = 0; n <= followed; ++n) {
    const double order = 2.0 * static_cast<double>(n);
    const double odd = even / (order + 1.0);
    layer.c[n] = cosh * even;
    layer.m[n] = range.series * sinhc * odd;
    layer.d[n] = frequency * range.conductance * sinhc * odd + below;
    below = range.shunt * sinhc * odd;
    even = odd / (order + 2.0) * range.thickness * range.thickness;
  }
  return layer;
}

struct MajorantStack {
  Majorant a{}, b{};
};

MajorantStack majorant_stack(const std::array<MajorantLayer, planned_layers>& layers, std::size_t count,
                             const Majorant& start, Truncation kept) {
  MajorantStack stack;
  stack.a[0] = 1.0;
  for (std::size_t n = 0; n <= kept.stack; ++n) stack.b[n] = start[n];
  for (std::size_t i = count; i-- > 0;) {
    const MajorantLayer& layer = layers[i];
    MajorantStack next;
    add_product(next.a, layer.c, kept.c, stack.a, kept.stack);
    add_product(next.a, layer.m, kept.m, stack.b, kept.stack);
    add_product(next.b, layer.c, kept.c, stack.b, kept.stack);
    add_product(next.b, layer.d, kept.d, stack.a, kept.stack);
    stack = next;
  }
  return stack;
}

double value(const Majorant& series, double u) {
  double sum = 0.0;
  for (std::size_t n = followed + 1; n-- > 0;) sum = sum * u + series[n];
  return sum;
}

/// What the kept coefficients leave out, and how fast the coefficients fall at the end of what is followed.
struct Remainder {
  Majorant left_out;
  double ratio, last;
  Remainder(const Majorant& all, const Majorant& kept)
      : ratio(all[followed - 1] > 0.0 ? all[followed] / all[followed - 1] : 0.0), last(all[followed]) {
    for (std::size_t n = 0; n <= followed; ++n) left_out[n] = all[n] - kept[n];
  }
  /// At u, with a geometric bound of what lies beyond; infinite where the series does not fall off.
  double at(double u) const {
    const double square = u * u;
    return ratio * u < 0.5 ? value(left_out, u) + 2.0 * ratio * last * u * square * square * u : HUGE_VAL;
  }
};

struct Choice {
  std::size_t nodes = 0;
  double error = 0.0;
};

/// Which nodes use polynomials in u for the whole stack, and the truncation that keeps the sum of their errors below
/// `allowed`; returns that sum.
double choose_polynomials(const PlanarRule& rule, const StackRange& stack, const NodeRange& nodes, double allowed,
                          Shortcuts shortcuts, FrequencyPlan& plan) {
  const double frequency = std::abs(plan.s);
  const LayerRange& core = stack.layers[plan.lowest];
  std::array<MajorantLayer, planned_layers> layers;
  for (std::size_t i = 0; i < plan.lowest; ++i) layers[i] = majorant_layer(stack.layers[i], frequency);
  // eta = sqrt(s g + u) / mu_r in powers of u / (s g): binomial coefficients of 1/2.
  Majorant start{1.0, 0.5, 0.125, 0.0625, 0.0390625, 0.02734375};
  double factor = std::sqrt(frequency * core.admittance_square);
  const double inverse = 1.0 / (frequency * core.least_diffusion);
  for (double& coefficient : start) {
    coefficient *= factor;
    factor *= inverse;
  }
  const MajorantStack all = majorant_stack(layers, plan.lowest, start, {followed, followed, followed, followed});

  // For Re s >= 0 power flows down: Re Y >= 0 and |A| grows upward, so |kA + B| >= k |A| >= k, and |k A|, |B| <= |k A +
  // B|. Otherwise Y lies in the cone of 1 and s, which shuts by sin arg s, and |A| >= 2 - (its majorant).
  const bool passive = plan.s.real() >= 0.0;
  const double sine = passive ? 1.0 : std::abs(plan.s.imag()) / frequency;
  const bool grows = passive || shortcuts == Shortcuts::likely;

  const auto reach = [&](std::size_t truncation) {
    const MajorantStack kept = majorant_stack(layers, plan.lowest, start, truncations[truncation]);
    const Remainder a(all.a, kept.a), b(all.b, kept.b);
    Choice choice;
    for (; choice.nodes < rule.nodes.size(); ++choice.nodes) {
      const double k = rule.nodes[choice.nodes], u = k * k;
      const double least = grows ? 1.0 : 2.0 - value(all.a, u);
      if (!(least > 0.01)) break;
      const double part = 2.0 * (a.at(u) + b.at(u) / k) / (sine * sine * least) * nodes.reach[choice.nodes];
      if (!(choice.error + part <= allowed)) break;
      choice.error += part;
    }
    if (choice.nodes > plan.series_nodes || (choice.nodes == plan.series_nodes && truncation < plan.truncation)) {
      plan.series_nodes = choice.nodes;
      plan.truncation = truncation;
    }
    return choice;
  };
  Choice choice = reach(1);
  if (choice.nodes < rule.nodes.size()) {
    choice = std::max(choice, reach(2), [](Choice x, Choice y) { return x.nodes < y.nodes; });
  } else if (choice.error < 0.1 * allowed) {
    const Choice cheaper = reach(0);
    if (cheaper.nodes == rule.nodes.size()) choice = cheaper;
  }
  return choice.error;
}

}  // namespace

NodeRange weigh_nodes(const PlanarRule& rule, double least_distance, double largest_distance) {
  NodeRange range;
  range.least_distance = least_distance;
  range.largest_distance = largest_distance;
  const double span = std::max(largest_distance - rule.reference_distance, rule.reference_distance - least_distance);
  for (std::size_t j = 0; j < rule.nodes.size(); ++j) {
    const double weight = std::abs(rule.weights[j]), k = rule.nodes[j];
    range.air += weight * std::exp(-k * (largest_distance - rule.reference_distance));
    const double reach = weight * std::exp(-k * (least_distance - rule.reference_distance));
    range.most += reach;
    if (j >= planned_nodes) continue;
    range.reach[j] = reach;
    double term = 1.0;
    int& terms = range.exponential_terms[j];
    for (int n = 1; n <= most_terms && terms == 0; ++n) {
      term *= k * span / n;
      if (term <= faint_part * rule.tolerance) terms = n;
    }
  }
  return range;
}

/// What a half-space in the place of the layer changes in rho, at most: E / cos(arg eta), E = exp(-2 Re kappa t).
static double left_out_below(const LayerRange& layer, Complex s) {
  const double cosine = std::cos(0.5 * std::abs(std::arg(s)));
  return std::exp(-2.0 * std::sqrt(std::abs(s) * layer.least_square) * cosine) / cosine;
}

bool hides_what_lies_below(const PlanarRule& rule, std::span<const Complex> s, const LayerRange& layer) {
  return rule.coupling == Coupling::reflected && std::all_of(s.begin(), s.end(), [&](Complex at) {
           return left_out_below(layer, at) <= opaque_part * rule.tolerance;
         });
}

FrequencyPlan make_plan(const PlanarRule& rule, Complex s, const StackRange& stack, const NodeRange& nodes,
                        std::size_t layers, Shortcuts shortcuts) {
  FrequencyPlan plan;
  plan.s = s;
  plan.table = make_table(s);
  constexpr std::array<double, 4> binomial{1.0, 0.5, -0.125, 0.0625};
  Complex power = std::sqrt(s);
  for (std::size_t n = 0; n < plan.root.size(); ++n) {
    plan.root[n] = binomial[n] * power;
    power /= s;
  }
  plan.lowest = layers;
  const double frequency = std::abs(s);
  double left_out = 0.0;
  if (shortcuts != Shortcuts::forbidden && rule.coupling == Coupling::reflected && frequency > 0.0) {
    for (std::size_t i = 0; i < stack.known; ++i) {
      const double part = left_out_below(stack.layers[i], s);
      if (!(part <= opaque_part * rule.tolerance)) continue;
      plan.lowest = i;
      plan.opaque = true;
      plan.least_square = stack.layers[i].least_square;
      left_out = part;
      break;
    }
  }
  bool all_thin = true;
  for (std::size_t i = 0; i < std::min(plan.lowest, planned_layers); ++i) {
    const LayerRange& layer = stack.layers[i];
    const double part = series_part * rule.tolerance;
    plan.terms[i] = terms_for(frequency * layer.square, part);
    if (i >= stack.known || plan.terms[i] > most_terms) {
      all_thin = false;
      continue;
    }
    // C, S and D are carried to u^3, u^2 and u^3: what is left out changes rho by less than (k t)^7 / 5040, to be
    // compared with the 1e-7 that the faintest layer reflects.
    const double largest = std::pow(5040.0 * faint_part * rule.tolerance, 2.0 / 7.0);
    const double square = layer.thickness * layer.thickness;
    while (plan.thin_nodes[i] < rule.nodes.size() &&
           rule.nodes[plan.thin_nodes[i]] * rule.nodes[plan.thin_nodes[i]] * square <= largest)
      ++plan.thin_nodes[i];
  }
  if (plan.opaque) {
    plan.bound = left_out * nodes.most;
    const double allowed = usual * all_parts * rule.tolerance * nodes.air - plan.bound;
    if (all_thin && rule.nodes.size() <= planned_nodes)
      plan.bound += choose_polynomials(rule, stack, nodes, allowed, shortcuts, plan);
    plan.worthless = plan.bound / (all_parts * rule.tolerance);
  }
  return plan;
}

}  // namespace mintspread::signature
