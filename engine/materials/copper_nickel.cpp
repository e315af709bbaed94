#include "engine/materials/copper_nickel.hpp"

#include <math.h>  // Boost 1.74's pchip calls isnan without its namespace

#include <algorithm>
#include <array>
#include <boost/math/interpolators/pchip.hpp>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/base/quad.hpp"
#include "engine/materials/interdiffusion.hpp"

namespace mintspread::materials {

namespace {

constexpr double copper_mole = 63.546, nickel_mole = 58.693;
constexpr double curie_of_nickel = celsius_zero + 356.0, curie_fall = 1050.0;
constexpr double magnetism_fall = curie_fall / (curie_of_nickel - reference_temperature);

constexpr std::size_t points = 8;  // of the rule of each zone

// Nodes of the table. ln(ratio): Chebyshev's points over ratios of 0.014 to 0.08, which is some 580 to 1120 C for
// copper and nickel. ln(sqrt(theta) / depth): evenly from 1/6, below which the copper counts as unlimited, to 1.5.
constexpr std::size_t ratios = 5, depths = 36;
const double least_log_ratio = std::log(0.014), most_log_ratio = std::log(0.08);
const double least_log_depth = std::log(1.0 / BlurredBoundary::copper_reach),
             most_log_depth = std::log(BlurredBoundary::most_spread);
const double depth_step = (most_log_depth - least_log_depth) / (depths - 1);

double log_ratio_at(std::size_t node) {
  const double middle = 0.5 * (least_log_ratio + most_log_ratio), half = 0.5 * (most_log_ratio - least_log_ratio);
  return middle - half * std::cos(pi * (static_cast<double>(node) + 0.5) / ratios);
}

/// How far from the first boundary the nickel is not magnetic at 20 C, in `unit`.
double paramagnetic_reach(const Couple& couple, double unit) {
  double magnetic = -BlurredBoundary::nickel_reach, not_magnetic = 0.0;
  for (int halving = 0; halving < 50; ++halving) {
    const double middle = 0.5 * (magnetic + not_magnetic);
    (copper_nickel_magnetism(couple.at(unit * middle)) > 0.0 ? magnetic : not_magnetic) = middle;
  }
  return -not_magnetic;
}

/// h[n] = (n + 1) INT f z^n dz over z from 0 to 1. Of steps with the values v it is v[last] + SUM (v[j] - v[j + 1])
/// edge[j]^(n + 1), so that steps with given moments are a Gauss rule of -df: edges its nodes.
template <std::size_t count>
using Moments = std::array<double, count>;

struct TwoSteps {
  double edge;
  std::array<double, 2> value;
};
/// Edges that leave no room for a step, as of a quantity that does not change, are moved inwards.
TwoSteps two_steps(const Moments<3>& h) {
  const double change = h[1] - h[0], found = (h[2] - h[1]) / change;
  const double edge = found > 0.02 ? std::min(found, 0.98) : 0.02;
  const double fall = change / (edge * edge - edge), last = h[0] - fall * edge;
  return {edge, {last + fall, last}};
}

using ThreeValues = std::array<double, 3>;
ThreeValues three_values(const std::array<double, 2>& edge, const Moments<3>& h) {
  const double first = h[1] - h[0], second = h[2] - h[1], apart = edge[1] - edge[0];
  const double inner = (edge[1] * first - second) / (edge[0] * (edge[0] - 1.0) * apart);
  const double outer = (second - edge[0] * first) / (edge[1] * (edge[1] - 1.0) * apart);
  const double last = h[0] - inner * edge[0] - outer * edge[1];
  return {last + outer + inner, last + outer, last};
}

/// The edges of three steps, from five moments of a quantity that rises or falls all along.
std::array<double, 2> three_step_edges(const Moments<5>& h) {
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

/// Lagrange's weights at fixed nodes.
template <std::size_t Count>
class Weights {
 public:
  explicit Weights(const std::array<double, Count>& nodes) : nodes_(nodes) {
    for (std::size_t i = 0; i < Count; ++i) {
      scale_[i] = 1.0;
      for (std::size_t j = 0; j < Count; ++j) {
        if (j != i) scale_[i] /= nodes[i] - nodes[j];
      }
    }
  }
  std::array<double, Count> at(double x) const {
    std::array<double, Count> out = scale_;
    for (std::size_t i = 0; i < Count; ++i) {
      for (std::size_t j = 0; j < Count; ++j) {
        if (j != i) out[i] *= x - nodes_[j];
      }
    }
    return out;
  }

 private:
  std::array<double, Count> nodes_, scale_;
};

const Weights<ratios>& ratio_weights() {
  static const Weights<ratios> weights([] {
    std::array<double, ratios> nodes{};
    for (std::size_t i = 0; i < ratios; ++i) nodes[i] = log_ratio_at(i);
    return nodes;
  }());
  return weights;
}

}  // namespace

double copper_by_mass(double atoms) {
  return atoms * copper_mole / (atoms * copper_mole + (1.0 - atoms) * nickel_mole);
}

double copper_nickel_resistivity(double copper) {
  // % of mass and uohm cm. The pure metals, 6.93 and 1.676, from memory like the rest.
  static const boost::math::interpolators::pchip<std::vector<double>> table(
      {0, 1, 5, 10, 15, 25, 30, 40, 50, 60, 70, 80, 85, 90, 95, 99, 100},
      {6.93, 8.08, 12.50, 17.82, 23.35, 35.11, 41.79, 47.73, 50.05, 45.38, 36.72, 25.66, 19.83, 13.89, 7.71, 2.85,
       1.676});
  return 1e-8 * table(100.0 * copper_by_mass(std::clamp(copper, 0.0, 1.0)));
}

double copper_nickel_curie_point(double copper) { return curie_of_nickel - curie_fall * copper; }

double copper_nickel_magnetism(double copper) { return std::max(0.0, 1.0 - magnetism_fall * copper); }

/// Where in a row of the table a figure stands. The boundary has two zones, the magnetic one and the other. In each,
/// places run from 0 to 1 towards the copper; resistivity and composition stand at the points of a rule, and with them
/// what the rule leaves out of the moments of the pure metals' conductivity, which is all but exact then for any
/// metals.
struct BlurredBoundary::Row {
  static constexpr std::size_t reach = 0;  ///< of what is not magnetic, in sqrt(INT D dt of copper in nickel)
  static constexpr std::size_t edges = 1, steps = 3;  ///< of the magnetic zone's composition
  static constexpr std::array<std::size_t, 2> left_out = {6, 9}, resistivity = {12, 12 + 2 * points},
                                              copper = {12 + points, 12 + 3 * points};
};

namespace {

/// Gauss-Legendre points of a zone. In the magnetic one they crowd towards its end, where 1 / mu rises.
struct Rule {
  std::array<double, points> place;
  std::array<std::array<double, points>, 3> weight;  ///< of h[0] to h[2]

  explicit Rule(bool crowded) : place() {
    using Legendre = boost::math::quadrature::gauss<double, points>;
    for (std::size_t i = 0; i < points; ++i) {
      const bool right = i >= points / 2;
      const std::size_t from_middle = right ? i - points / 2 : points / 2 - 1 - i;
      const double node = Legendre::abscissa()[from_middle], whole = 0.5 * Legendre::weights()[from_middle];
      const double even = 0.5 * (right ? 1.0 + node : 1.0 - node);
      place[i] = crowded ? 1.0 - even * even : even;
      weight[0][i] = crowded ? 2.0 * even * whole : whole;
      weight[1][i] = 2.0 * weight[0][i] * place[i];
      weight[2][i] = 3.0 * weight[0][i] * place[i] * place[i];
    }
  }
};
const std::array<Rule, 2>& rules() {
  static const std::array<Rule, 2> both = {Rule(true), Rule(false)};
  return both;
}

double sum_of(Quad quad) { return (quad[0] + quad[1]) + (quad[2] + quad[3]); }

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

}  // namespace

BlurredBoundary::BlurredBoundary() {
  static_assert(row == 12 + 4 * points && row % quad_lanes == 0);
  values_.resize(depths * ratios * row);
  for (std::size_t r = 0; r < ratios; ++r) {
    const double ratio = std::exp(log_ratio_at(r));
    Couple couple(ratio, 1.2 * nickel_reach * std::sqrt(ratio) * std::exp(most_log_depth));
    for (std::size_t d = 0; d < depths; ++d) {
      const double spread = std::exp(least_log_depth + depth_step * static_cast<double>(d));
      couple.advance(spread * spread);
      double* to = &values_[(d * ratios + r) * row];
      const double unit = std::sqrt(ratio) * spread, reach = paramagnetic_reach(couple, unit);
      to[Row::reach] = reach;
      const std::array<double, 3> edge = {-nickel_reach * unit, -reach * unit, std::min(copper_reach * spread, 1.0)};
      for (std::size_t zone = 0; zone < 2; ++zone) {
        const auto copper_at = [&](double z) { return couple.at(edge[zone] + z * (edge[zone + 1] - edge[zone])); };
        const auto exact = moments_of<3>([&](double z) { return 1.0 / copper_nickel_resistivity(copper_at(z)); });
        for (std::size_t n = 0; n < 3; ++n) to[Row::left_out[zone] + n] = exact[n];
        const Rule& rule = rules()[zone];
        for (std::size_t i = 0; i < points; ++i) {
          const double c = copper_at(rule.place[i]), ohm = copper_nickel_resistivity(c);
          to[Row::copper[zone] + i] = c;
          to[Row::resistivity[zone] + i] = ohm;
          for (std::size_t n = 0; n < 3; ++n) to[Row::left_out[zone] + n] -= rule.weight[n][i] / ohm;
        }
        if (zone > 0) continue;
        const auto h = moments_of<5>(copper_at);
        const auto edges = three_step_edges(h);
        std::ranges::copy(edges, to + Row::edges);
        std::ranges::copy(three_values(edges, {h[0], h[1], h[2]}), to + Row::steps);
      }
    }
  }
}

const BlurredBoundary& BlurredBoundary::usual() {
  static const BlurredBoundary boundary;
  return boundary;
}

bool BlurredBoundary::diffuse(double in_copper, double in_nickel, double copper_depth, Profile& to) const {
  const double spread = std::sqrt(in_copper);
  if (!(spread <= most_spread * copper_depth)) return false;
  to.nickel_unit = std::sqrt(in_nickel);
  to.copper_side = std::min(copper_reach * spread, copper_depth);

  const double log_ratio = in_copper > 0.0 ? std::log(in_nickel / in_copper) : least_log_ratio;
  const auto by_ratio = ratio_weights().at(std::clamp(log_ratio, least_log_ratio, most_log_ratio));

  // A copper layer that the diffusion does not fill looks the same at every depth.
  std::array<double, 4> by_depth = {1.0, 0.0, 0.0, 0.0};
  std::size_t first = 0, nodes = 1;
  if (copper_reach * spread > copper_depth) {
    const double along = (std::log(spread / copper_depth) - least_log_depth) / depth_step;
    first = static_cast<std::size_t>(std::clamp(along - 1.0, 0.0, static_cast<double>(depths - 4)));
    nodes = 4;
    static const Weights<4> evenly({0.0, 1.0, 2.0, 3.0});
    by_depth = evenly.at(along - static_cast<double>(first));
  }
  for (std::size_t i = 0; i < row; i += quad_lanes) {
    Quad total = quad_of(0.0);
    for (std::size_t d = 0; d < nodes; ++d) {
      for (std::size_t r = 0; r < ratios; ++r)
        total += by_depth[d] * by_ratio[r] * load_quad(values_, ((first + d) * ratios + r) * row + i);
    }
    store_quad(total, to.figures, i);
  }
  return true;
}

bool BlurredBoundary::cut(const Profile& profile, double nickel_depth, const Properties& nickel,
                          const Properties& copper, std::span<Sublayer> out) const {
  if (!(nickel_reach * profile.nickel_unit <= nickel_depth)) return false;
  static const double pure_nickel = copper_nickel_resistivity(0.0), pure_copper = copper_nickel_resistivity(1.0);
  const Quad more_nickel = quad_of(1.0 / nickel.conductivity - pure_nickel),
             more_copper = quad_of(1.0 / copper.conductivity - pure_copper);
  const auto& figures = profile.figures;
  const double susceptibility = nickel.permeability - 1.0;

  std::array<Moments<3>, 2> conductance;
  Moments<2> part;                     // that is copper in the zone that is not magnetic
  double squared = 0.0, linear = 0.0;  // INT m^2 / (1 + X m) dz and INT m dz, below
  for (std::size_t zone = 0; zone < 2; ++zone) {
    const Rule& rule = rules()[zone];
    std::array<Quad, 3> of_conductance{};
    std::array<Quad, 2> of_part{};
    Quad of_square{}, of_magnetism{};
    for (std::size_t i = 0; i < points; i += quad_lanes) {
      const Quad c = load_quad(figures, Row::copper[zone] + i), ohm = load_quad(figures, Row::resistivity[zone] + i);
      const Quad conductivity = 1.0 / (ohm + ((1.0 - c) * more_nickel + c * more_copper));
      for (std::size_t n = 0; n < 3; ++n) of_conductance[n] += load_quad(rule.weight[n], i) * conductivity;
      if (zone == 0) {
        const Quad fallen = 1.0 - magnetism_fall * c, magnetism = fallen > 0.0 ? fallen : quad_of(0.0);
        const Quad weighed = load_quad(rule.weight[0], i) * magnetism;
        of_magnetism += weighed;
        of_square += weighed * magnetism / (1.0 + susceptibility * magnetism);
      } else {
        for (std::size_t n = 0; n < 2; ++n) of_part[n] += load_quad(rule.weight[n], i) * c;
      }
    }
    for (std::size_t n = 0; n < 3; ++n)
      conductance[zone][n] = figures[Row::left_out[zone] + n] + sum_of(of_conductance[n]);
    if (zone == 0) {
      squared = sum_of(of_square);
      linear = sum_of(of_magnetism);
    } else {
      part = {sum_of(of_part[0]), sum_of(of_part[1])};
    }
  }

  const double nickel_slope = nickel.temperature_coefficient / nickel.conductivity;
  const double copper_slope = copper.temperature_coefficient / copper.conductivity;
  const auto metal = [&](double conductivity, double permeability, double part_copper) {
    return Properties{conductivity, permeability,
                      ((1.0 - part_copper) * nickel_slope + part_copper * copper_slope) * conductivity};
  };

  const TwoSteps steps = two_steps(conductance[1]);
  std::array<double, 2> in_other = steps.value;
  keep_conducting(in_other, conductance[1][0]);
  const double change = (part[1] - part[0]) / (steps.edge * steps.edge - steps.edge);
  const double last_part = part[0] - change * steps.edge;
  const double reach = figures[Row::reach] * profile.nickel_unit;
  const double first = steps.edge * (reach + profile.copper_side);
  const double before = std::min(first, reach), behind = first - before;  // the first boundary may lie in either step

  // Lines of force that cross the magnetic zone meet INT dx / mu, which is more than steps of the permeability tell:
  // the last of them is made shorter and as much more magnetic as gives both integrals, and the rest goes to what is
  // not magnetic. With m the magnetism and X the susceptibility, 1 / (1 + X m) = 1 - X m + X^2 m^2 / (1 + X m) leaves
  // the last term to be met, which is sound for any X.
  const double magnetic_side = nickel_reach * profile.nickel_unit - reach;
  const std::array<double, 2> edge = {figures[Row::edges], figures[Row::edges + 1]};
  ThreeValues length = {edge[0], edge[1] - edge[0], 1.0 - edge[1]}, magnetism, copper_part;
  for (std::size_t i = 0; i < 3; ++i) {
    copper_part[i] = figures[Row::steps + i];
    magnetism[i] = std::max(0.0, 1.0 - magnetism_fall * copper_part[i]);
    linear -= length[i] * magnetism[i];
  }
  // What the rule leaves out, it leaves out where m is all but 1.
  squared -= linear * (2.0 + susceptibility) / ((1.0 + susceptibility) * (1.0 + susceptibility));
  for (std::size_t i = 0; i < 2; ++i)
    squared -= length[i] * magnetism[i] * magnetism[i] / (1.0 + susceptibility * magnetism[i]);
  const double crossed = 1.0 + susceptibility * magnetism[2];
  const double kept = 1.0 + crossed - crossed * crossed * squared / (length[2] * magnetism[2] * magnetism[2]);
  const double longest = length[2] + 0.5 * before / std::max(magnetic_side, 1e-15);
  const double shorter = std::clamp(kept * length[2], 0.7 * length[2], std::min(1.5 * length[2], longest));
  magnetism[2] *= length[2] / shorter;
  const double moved = (length[2] - shorter) * magnetic_side;
  length[2] = shorter;
  ThreeValues in_magnetic = three_values(edge, conductance[0]);
  keep_conducting(in_magnetic, conductance[0][0]);

  for (std::size_t i = 0; i < magnetic_cells; ++i)
    out[i] = {length[i] * magnetic_side, 0.0,
              metal(in_magnetic[i], 1.0 + susceptibility * magnetism[i], copper_part[i])};
  const double with_moved =
      first > 0.0 ? (in_other[0] * first + in_magnetic[2] * moved) / (first + moved) : in_other[0];
  out[magnetic_cells] = {before + moved, behind, metal(with_moved, 1.0, last_part + change)};
  out[magnetic_cells + 1] = {reach - before, profile.copper_side - behind, metal(in_other[1], 1.0, last_part)};
  return true;
}

}  // namespace mintspread::materials
