#include "engine/materials/copper_nickel.hpp"

#include <math.h>  // Boost 1.74's pchip calls isnan without its namespace

#include <algorithm>
#include <array>
#include <boost/math/interpolators/pchip.hpp>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/base/quad.hpp"
#include "engine/materials/interdiffusion.hpp"

namespace mintspread::materials {

namespace {

constexpr double copper_mole = 63.546, nickel_mole = 58.693;
constexpr double curie_of_nickel = celsius_zero + 356.0, curie_fall = 1050.0;

// What a cell is told by; conductivities of the pure-metal table.
enum Figure {
  resistivity,
  of_nickel,
  of_copper,
  shift,
  shift_of_nickel,
  shift_of_copper,
  magnetism,
  copper_part,
  figures
};

constexpr std::size_t cells = BlurredBoundary::cells;
constexpr std::size_t row = (1 + figures * cells + quad_lanes - 1) / quad_lanes * quad_lanes;

// Where nickel stops being magnetic is an edge of its own: lines of force cross what lies there as a gap, so that a
// sublayer of mean permeability over it would be wrong by a part of its thickness (1e-3 of a reading at 850 C).
constexpr std::array<double, BlurredBoundary::nickel_cells> magnetic_edges = {1.0, 0.5, 0.2, 0.0};
constexpr std::array<double, BlurredBoundary::copper_cells + 1> copper_edges = {0.0, 0.15, 0.32, 0.52, 1.0};

// Nodes of the table. ln(ratio): Chebyshev's points over ratios of 0.014 to 0.08, which is some 580 to 1120 C for
// copper and nickel. ln(sqrt(theta) / depth): evenly from 1/6, below which the copper counts as unlimited, to 1.5.
constexpr std::size_t ratios = 5, depths = 24;
const double least_log_ratio = std::log(0.014), most_log_ratio = std::log(0.08);
const double least_log_depth = std::log(1.0 / BlurredBoundary::copper_reach),
             most_log_depth = std::log(BlurredBoundary::most_spread);
const double depth_step = (most_log_depth - least_log_depth) / (depths - 1);

double log_ratio_at(std::size_t node) {
  const double middle = 0.5 * (least_log_ratio + most_log_ratio), half = 0.5 * (most_log_ratio - least_log_ratio);
  return middle - half * std::cos(pi * (static_cast<double>(node) + 0.5) / ratios);
}

/// Edges of the nickel side from its far end to the first boundary, in sqrt(INT D dt of copper in nickel).
double nickel_edge(std::size_t number, double paramagnetic) {
  if (number == magnetic_edges.size()) return 0.0;
  return paramagnetic + magnetic_edges[number] * (BlurredBoundary::nickel_reach - paramagnetic);
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

using Cells = std::array<double, cells>;

/// A quantity over the cells: means, and their first moments about each cell's middle.
struct Staircase {
  Cells mean{}, moment{};
};

/// Steps of means hold all of a quantity, but not where in each step it lies. What to add to each of the first `count`
/// steps so that moments are right as well: every step's own goes from the step before it to the one behind it.
Cells put_in_place(const Staircase& steps, const Cells& middle, const Cells& length, std::size_t count) {
  Cells shift{};
  for (std::size_t cell = 0; cell < count; ++cell) {
    const std::size_t before = cell > 0 ? cell - 1 : 0, behind = std::min(cell + 1, count - 1);
    const double passed = steps.moment[cell] / (middle[behind] - middle[before]);
    shift[before] -= passed / length[before];
    shift[behind] += passed / length[behind];
  }
  return shift;
}

/// The last magnetic sublayer, whose susceptibility falls to nothing at its end, and the one behind it. Lines of force
/// that cross it meet INT dx / mu, which is more than mean permeability tells: the rest goes to the gap behind, so that
/// both INT mu dx and INT dx / mu stay. That it falls evenly from twice its mean makes both closed forms.
void widen_gap(Sublayer& magnetic, Sublayer& gap) {
  const double mean = magnetic.metal.permeability - 1.0;
  const double crossed = mean > 1e-4 ? 1.0 - std::log1p(2.0 * mean) / (2.0 * mean) : 0.0;
  const double kept = mean > 1e-4 ? crossed * mean / (mean - crossed) : 0.75;
  const double moved = (1.0 - kept) * magnetic.thickness;
  magnetic.metal.permeability = 1.0 + mean / kept;
  if (moved == 0.0) return;
  const double thicker = gap.thickness + moved;
  gap.metal.conductivity = (gap.metal.conductivity * gap.thickness + magnetic.metal.conductivity * moved) / thicker;
  gap.thickness = thicker;
  magnetic.thickness -= moved;
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

double copper_nickel_magnetism(double copper) {
  const double room = reference_temperature;
  return std::max(0.0, (copper_nickel_curie_point(copper) - room) / (curie_of_nickel - room));
}

BlurredBoundary::BlurredBoundary() {
  constexpr int samples = 96;
  values_.resize(depths * ratios * row);
  for (std::size_t r = 0; r < ratios; ++r) {
    const double ratio = std::exp(log_ratio_at(r));
    Couple couple(ratio, 1.2 * nickel_reach * std::sqrt(ratio) * std::exp(most_log_depth));
    for (std::size_t d = 0; d < depths; ++d) {
      const double spread = std::exp(least_log_depth + depth_step * static_cast<double>(d));
      couple.advance(spread * spread);
      double* to = &values_[(d * ratios + r) * row];
      const double nickel_unit = std::sqrt(ratio) * spread, copper_unit = std::min(copper_reach * spread, 1.0);
      to[0] = paramagnetic_reach(couple, nickel_unit);
      const auto edge = [&](std::size_t number) {
        return number <= nickel_cells ? -nickel_unit * nickel_edge(number, to[0])
                                      : copper_unit * copper_edges[number - nickel_cells];
      };
      Cells middle{}, length{}, part{};
      Staircase conductance, by_nickel, by_copper, magnetic;
      for (std::size_t cell = 0; cell < cells; ++cell) {
        length[cell] = edge(cell + 1) - edge(cell);
        middle[cell] = edge(cell) + 0.5 * length[cell];
        for (int i = 0; i < samples; ++i) {
          const double aside = ((i + 0.5) / samples - 0.5) * length[cell];
          const double c = couple.at(middle[cell] + aside), conductivity = 1.0 / copper_nickel_resistivity(c);
          const auto add = [&](Staircase& steps, double value) {
            steps.mean[cell] += value / samples;
            steps.moment[cell] += value * aside * length[cell] / samples;
          };
          add(conductance, conductivity);
          add(by_copper, conductivity * conductivity * c);
          add(by_nickel, conductivity * conductivity * (1.0 - c));
          add(magnetic, copper_nickel_magnetism(c));
          part[cell] += c / samples;
        }
      }
      const auto shift_of = [&](const Staircase& steps) { return put_in_place(steps, middle, length, cells); };
      const Cells more = shift_of(conductance), more_by_nickel = shift_of(by_nickel),
                  more_by_copper = shift_of(by_copper);
      const Cells more_magnetic = put_in_place(magnetic, middle, length, nickel_cells - 1);
      for (std::size_t cell = 0; cell < cells; ++cell) {
        const double mean = conductance.mean[cell];
        double* figure = to + 1 + cell;
        figure[resistivity * cells] = 1.0 / mean;
        figure[of_nickel * cells] = by_nickel.mean[cell] / (mean * mean);
        figure[of_copper * cells] = by_copper.mean[cell] / (mean * mean);
        figure[shift * cells] = more[cell];
        figure[shift_of_nickel * cells] = more_by_nickel[cell];
        figure[shift_of_copper * cells] = more_by_copper[cell];
        figure[magnetism * cells] = magnetic.mean[cell] + more_magnetic[cell];
        figure[copper_part * cells] = part[cell];
      }
    }
  }
}

const BlurredBoundary& BlurredBoundary::usual() {
  static const BlurredBoundary boundary;
  return boundary;
}

bool BlurredBoundary::fill(double in_copper, double in_nickel, double copper_depth, double nickel_depth,
                           const Properties& nickel, const Properties& copper, std::span<Sublayer> out) const {
  const double spread = std::sqrt(in_copper), nickel_unit = std::sqrt(in_nickel);
  if (!(nickel_reach * nickel_unit <= nickel_depth && spread <= most_spread * copper_depth)) return false;
  const double copper_side = std::min(copper_reach * spread, copper_depth);

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

  alignas(32) std::array<double, row> sum;
  for (std::size_t i = 0; i < row; i += quad_lanes) {
    Quad total = quad_of(0.0);
    for (std::size_t d = 0; d < nodes; ++d) {
      for (std::size_t r = 0; r < ratios; ++r)
        total += by_depth[d] * by_ratio[r] * load_quad(values_, ((first + d) * ratios + r) * row + i);
    }
    store_quad(total, sum, i);
  }

  static const double pure_nickel = copper_nickel_resistivity(0.0), pure_copper = copper_nickel_resistivity(1.0);
  const double more_nickel = 1.0 / nickel.conductivity - pure_nickel,
               more_copper = 1.0 / copper.conductivity - pure_copper;
  const double nickel_slope = nickel.temperature_coefficient / nickel.conductivity;
  const double copper_slope = copper.temperature_coefficient / copper.conductivity;
  for (std::size_t cell = 0; cell < cells; ++cell) {
    const double* figure = &sum[1 + cell];
    Sublayer& to = out[cell];
    to.thickness = cell < nickel_cells
                       ? (nickel_edge(cell, sum[0]) - nickel_edge(cell + 1, sum[0])) * nickel_unit
                       : (copper_edges[cell + 1 - nickel_cells] - copper_edges[cell - nickel_cells]) * copper_side;
    // What is beyond the pure metals' resistivity counts to first order within a sublayer, in a form that stays sound
    // for metals many times as resistive: moments fall with its square, and never take all.
    const double pure = figure[resistivity * cells];
    const double beyond = (more_nickel * figure[of_nickel * cells] + more_copper * figure[of_copper * cells]) / pure;
    const double shifted = figure[shift * cells] * (1.0 + 2.0 * beyond) -
                           more_nickel * figure[shift_of_nickel * cells] -
                           more_copper * figure[shift_of_copper * cells];
    const double ohm = pure * (1.0 + beyond), part = figure[copper_part * cells];
    to.metal.conductivity = 1.0 / ohm + std::max(shifted / ((1.0 + beyond) * (1.0 + beyond)), -0.9 / ohm);
    to.metal.permeability = 1.0 + (nickel.permeability - 1.0) * std::max(0.0, figure[magnetism * cells]);
    to.metal.temperature_coefficient = ((1.0 - part) * nickel_slope + part * copper_slope) / ohm;
  }
  widen_gap(out[nickel_cells - 2], out[nickel_cells - 1]);
  return true;
}

}  // namespace mintspread::materials
