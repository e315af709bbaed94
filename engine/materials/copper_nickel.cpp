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
enum Figure { resistivity, of_nickel, of_copper, magnetism, copper_part, figures };

constexpr std::size_t most_figures = 328;

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

double between(double from, double to, std::size_t part, std::size_t parts) {
  return from + (to - from) * static_cast<double>(part) / static_cast<double>(parts);
}

/// Edges of the nickel side from its far end to the first boundary, in sqrt(INT D dt of copper in nickel).
double nickel_edge(std::size_t number, std::size_t parts, double paramagnetic) {
  constexpr double reach = BlurredBoundary::nickel_reach;
  const std::size_t cell = number / parts, part = number % parts;
  const auto edge = [&](std::size_t i) {
    return i < magnetic_edges.size() ? paramagnetic + magnetic_edges[i] * (reach - paramagnetic) : 0.0;
  };
  return part == 0 ? edge(cell) : between(edge(cell), edge(cell + 1), part, parts);
}

/// Edges of the copper side from the first boundary on, as parts of the side.
double copper_edge(std::size_t number, std::size_t parts) {
  const std::size_t cell = number / parts, part = number % parts;
  return part == 0 ? copper_edges[cell] : between(copper_edges[cell], copper_edges[cell + 1], part, parts);
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

BlurredBoundary::BlurredBoundary(std::size_t parts) : parts_(parts) {
  constexpr int samples = 96;
  row_ = (1 + figures * cells() + quad_lanes - 1) / quad_lanes * quad_lanes;
  expect(row_ <= most_figures, "a boundary is told in a limited number of sublayers");
  values_.resize(depths * ratios * row_);
  for (std::size_t r = 0; r < ratios; ++r) {
    const double ratio = std::exp(log_ratio_at(r));
    Couple couple(ratio, 1.2 * nickel_reach * std::sqrt(ratio) * std::exp(most_log_depth), 2.0);
    for (std::size_t d = 0; d < depths; ++d) {
      const double spread = std::exp(least_log_depth + depth_step * static_cast<double>(d));
      couple.advance(spread * spread);
      double* to = &values_[(d * ratios + r) * row_];
      const double nickel_unit = std::sqrt(ratio) * spread;
      to[0] = paramagnetic_reach(couple, nickel_unit);
      ++to;
      for (std::size_t cell = 0; cell < cells(); ++cell) {
        const bool nickel = cell < nickel_cells * parts;
        const auto edge = [&](std::size_t number) {
          return nickel ? -nickel_unit * nickel_edge(number, parts, to[-1])
                        : copper_edge(number - nickel_cells * parts, parts) * std::min(copper_reach * spread, 1.0);
        };
        const double from = edge(cell), length = edge(cell + 1) - from;
        double conductance = 0.0, by_nickel = 0.0, by_copper = 0.0, magnetic = 0.0, part = 0.0;
        for (int i = 0; i < samples; ++i) {
          const double along = (i + 0.5) / samples;
          const double c = couple.at(from + along * length);
          const double conductivity = 1.0 / copper_nickel_resistivity(c);
          conductance += conductivity / samples;
          by_copper += conductivity * conductivity * c / samples;
          by_nickel += conductivity * conductivity * (1.0 - c) / samples;
          magnetic += copper_nickel_magnetism(c) / samples;
          part += c / samples;
        }
        to[resistivity * cells() + cell] = 1.0 / conductance;
        to[of_nickel * cells() + cell] = by_nickel / (conductance * conductance);
        to[of_copper * cells() + cell] = by_copper / (conductance * conductance);
        to[magnetism * cells() + cell] = magnetic;
        to[copper_part * cells() + cell] = part;
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

  const std::size_t count = cells();
  alignas(32) std::array<double, most_figures> room;
  const std::span<double> sum(room.data(), row_);
  for (std::size_t i = 0; i < row_; i += quad_lanes) {
    Quad total = quad_of(0.0);
    for (std::size_t d = 0; d < nodes; ++d) {
      for (std::size_t r = 0; r < ratios; ++r)
        total += by_depth[d] * by_ratio[r] * load_quad(values_, ((first + d) * ratios + r) * row_ + i);
    }
    store_quad(total, sum, i);
  }

  static const double pure_nickel = copper_nickel_resistivity(0.0), pure_copper = copper_nickel_resistivity(1.0);
  const double more_nickel = 1.0 / nickel.conductivity - pure_nickel,
               more_copper = 1.0 / copper.conductivity - pure_copper;
  const double nickel_slope = nickel.temperature_coefficient / nickel.conductivity;
  const double copper_slope = copper.temperature_coefficient / copper.conductivity;
  for (std::size_t cell = 0; cell < count; ++cell) {
    const std::size_t edge = cell < nickel_cells * parts_ ? cell : cell - nickel_cells * parts_;
    Sublayer& to = out[cell];
    to.thickness = cell < nickel_cells * parts_
                       ? (nickel_edge(edge, parts_, room[0]) - nickel_edge(edge + 1, parts_, room[0])) * nickel_unit
                       : (copper_edge(edge + 1, parts_) - copper_edge(edge, parts_)) * copper_side;
    const double ohm = sum[1 + resistivity * count + cell] + more_nickel * sum[1 + of_nickel * count + cell] +
                       more_copper * sum[1 + of_copper * count + cell];
    const double part = sum[1 + copper_part * count + cell];
    to.metal.conductivity = 1.0 / ohm;
    to.metal.permeability = 1.0 + (nickel.permeability - 1.0) * std::max(0.0, sum[1 + magnetism * count + cell]);
    to.metal.temperature_coefficient = ((1.0 - part) * nickel_slope + part * copper_slope) / ohm;
  }
  return true;
}

}  // namespace mintspread::materials
