#include "engine/materials/blurred_boundary.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <mutex>
#include <utility>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/base/quad.hpp"
#include "engine/materials/interdiffusion.hpp"

namespace mintspread::materials {

namespace {

// What a cell is told by; conductivities of the pair's own alloys.
enum Figure { resistivity, of_slow, of_quick, shift, shift_of_slow, shift_of_quick, magnetic, quick_part, figures };

constexpr std::size_t cells = BlurredBoundary::cells;
constexpr std::size_t row = (1 + figures * cells + quad_lanes - 1) / quad_lanes * quad_lanes;

// Where the slow metal stops being magnetic is an edge of its own: lines of force cross what lies there as a gap, so
// that a sublayer of mean permeability over it would be wrong by a part of its thickness (1e-3 of a reading at 850 C).
// Where nothing is magnetic the edge stands at a part of the reach.
constexpr std::array<double, BlurredBoundary::slow_cells> slow_edges = {1.0, 0.5, 0.2, 0.0};
constexpr std::array<double, BlurredBoundary::quick_cells + 1> quick_edges = {0.0, 0.15, 0.32, 0.52, 1.0};
constexpr double plain_gap = 0.2;

// Nodes of the table. ln(ratio): Chebyshev's points over what the pair has from coldest_diffusion to hottest_diffusion,
// one for each half or less. ln(sqrt(theta) / depth): evenly from 1/6, below which the quick layer counts as unlimited,
// to 1.5.
constexpr std::size_t depths = 24, most_ratios = 16;
constexpr double ratio_step = 0.5;
const double least_log_depth = std::log(1.0 / BlurredBoundary::quick_reach),
             most_log_depth = std::log(BlurredBoundary::most_spread);
const double depth_step = (most_log_depth - least_log_depth) / (depths - 1);

/// Edges of the slow side from its far end at `reach` to the first boundary, `gap` being where it stops being magnetic.
double slow_edge(std::size_t number, double gap, double reach) {
  if (number == slow_edges.size()) return 0.0;
  return gap + slow_edges[number] * (reach - gap);
}

// Below this part of the reach a gap is none: the first boundary itself is magnetic, or nearly so. The table's own gaps
// are kept above nothing, so that its other figures are numbers.
constexpr double least_gap = 0.05, least_gap_in_table = 0.02;

/// How far from the first boundary the slow side is not magnetic at 20 C, in `unit`.
double gap_of(const DiffusionPair& pair, const Couple& couple, double unit, double reach) {
  if (pair.magnetic_until == 0.0) return plain_gap * reach;
  double far = -reach, not_magnetic = 0.0;
  for (int halving = 0; halving < 50; ++halving) {
    const double middle = 0.5 * (far + not_magnetic);
    (magnetism(pair, couple.at(unit * middle)) > 0.0 ? far : not_magnetic) = middle;
  }
  return std::max(-not_magnetic, least_gap_in_table * reach);
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
void widen_gap(Sublayer& last, Sublayer& gap) {
  const double mean = last.metal.permeability - 1.0;
  const double crossed = mean > 1e-4 ? 1.0 - std::log1p(2.0 * mean) / (2.0 * mean) : 0.0;
  const double kept = mean > 1e-4 ? crossed * mean / (mean - crossed) : 0.75;
  const double moved = (1.0 - kept) * last.thickness;
  last.metal.permeability = 1.0 + mean / kept;
  if (moved == 0.0) return;
  const double thicker = gap.thickness + moved;
  gap.metal.conductivity = (gap.metal.conductivity * gap.thickness + last.metal.conductivity * moved) / thicker;
  gap.thickness = thicker;
  last.thickness -= moved;
}

/// Lagrange's weights at fixed nodes.
class Weights {
 public:
  explicit Weights(std::vector<double> nodes) : nodes_(std::move(nodes)), scale_(nodes_.size(), 1.0) {
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      for (std::size_t j = 0; j < nodes_.size(); ++j) {
        if (j != i) scale_[i] /= nodes_[i] - nodes_[j];
      }
    }
  }
  const std::vector<double>& nodes() const { return nodes_; }
  void at(double x, std::span<double> out) const {
    for (std::size_t i = 0; i < nodes_.size(); ++i) {
      out[i] = scale_[i];
      for (std::size_t j = 0; j < nodes_.size(); ++j) {
        if (j != i) out[i] *= x - nodes_[j];
      }
    }
  }

 private:
  std::vector<double> nodes_, scale_;
};

struct Range {
  double least, most;
};

Range log_ratios(const DiffusionPair& pair) {
  const double cold = log_ratio(pair, coldest_diffusion), hot = log_ratio(pair, hottest_diffusion);
  const double floor = std::log(BlurredBoundary::least_ratio);
  return {std::max(floor, std::min(cold, hot)), std::max(floor, std::max(cold, hot))};
}

std::vector<double> ratio_nodes(const Range& range) {
  const double middle = 0.5 * (range.least + range.most), half = 0.5 * (range.most - range.least);
  if (half < 1e-6) return {middle};
  const auto count = std::min(most_ratios, 1 + static_cast<std::size_t>(std::ceil(2.0 * half / ratio_step)));
  std::vector<double> nodes;
  for (std::size_t node = 0; node < count; ++node)
    nodes.push_back(middle - half * std::cos(pi * (static_cast<double>(node) + 0.5) / static_cast<double>(count)));
  return nodes;
}

}  // namespace

struct BlurredBoundary::Table {
  explicit Table(const DiffusionPair& pair) : range(log_ratios(pair)), by_ratio(ratio_nodes(range)) {}
  void make(const DiffusionPair& pair);

  std::once_flag made;
  Range range;
  Weights by_ratio;
  std::vector<double>
      values;  ///< by depth and ratio: where the slow side stops being magnetic, then by figure and cell
};

void BlurredBoundary::Table::make(const DiffusionPair& pair) {
  constexpr int samples = 96;
  const auto resistivity_at = resistivity_of(pair);
  const std::size_t ratios = by_ratio.nodes().size();
  values.resize(depths * ratios * row);
  for (std::size_t r = 0; r < ratios; ++r) {
    const double ratio = std::exp(by_ratio.nodes()[r]), reach = slow_reach(1.0, ratio) / std::sqrt(ratio);
    Couple couple(ratio, 1.2 * slow_reach(1.0, ratio) * most_spread);
    for (std::size_t d = 0; d < depths; ++d) {
      const double spread = std::exp(least_log_depth + depth_step * static_cast<double>(d));
      couple.advance(spread * spread);
      double* to = &values[(d * ratios + r) * row];
      const double slow_unit = std::sqrt(ratio) * spread, quick_unit = std::min(quick_reach * spread, 1.0);
      to[0] = gap_of(pair, couple, slow_unit, reach);
      const auto edge = [&](std::size_t number) {
        return number <= slow_cells ? -slow_unit * slow_edge(number, to[0], reach)
                                    : quick_unit * quick_edges[number - slow_cells];
      };
      Cells middle{}, length{}, part{};
      Staircase conductance, by_slow, by_quick, magnetisable;
      for (std::size_t cell = 0; cell < cells; ++cell) {
        length[cell] = edge(cell + 1) - edge(cell);
        middle[cell] = edge(cell) + 0.5 * length[cell];
        for (int i = 0; i < samples; ++i) {
          const double aside = ((i + 0.5) / samples - 0.5) * length[cell];
          const double c = couple.at(middle[cell] + aside), conductivity = 1.0 / resistivity_at(c);
          const auto add = [&](Staircase& steps, double value) {
            steps.mean[cell] += value / samples;
            steps.moment[cell] += value * aside * length[cell] / samples;
          };
          add(conductance, conductivity);
          add(by_quick, conductivity * conductivity * c);
          add(by_slow, conductivity * conductivity * (1.0 - c));
          add(magnetisable, magnetism(pair, c));
          part[cell] += c / samples;
        }
      }
      const auto shift_of = [&](const Staircase& steps) { return put_in_place(steps, middle, length, cells); };
      const Cells more = shift_of(conductance), more_by_slow = shift_of(by_slow), more_by_quick = shift_of(by_quick);
      const Cells more_magnetic = put_in_place(magnetisable, middle, length, slow_cells - 1);
      for (std::size_t cell = 0; cell < cells; ++cell) {
        const double mean = conductance.mean[cell];
        double* figure = to + 1 + cell;
        figure[resistivity * cells] = 1.0 / mean;
        figure[of_slow * cells] = by_slow.mean[cell] / (mean * mean);
        figure[of_quick * cells] = by_quick.mean[cell] / (mean * mean);
        figure[shift * cells] = more[cell];
        figure[shift_of_slow * cells] = more_by_slow[cell];
        figure[shift_of_quick * cells] = more_by_quick[cell];
        figure[magnetic * cells] = magnetisable.mean[cell] + more_magnetic[cell];
        figure[quick_part * cells] = part[cell];
      }
    }
  }
}

BlurredBoundary::BlurredBoundary(DiffusionPair pair) : pair_(std::move(pair)), table_(std::make_unique<Table>(pair_)) {
  expect(log_ratio(pair_, hottest_diffusion) < 1e-6, "the metals of a pair stand in order");
}

BlurredBoundary::~BlurredBoundary() = default;

const BlurredBoundary::Table& BlurredBoundary::table() const {
  std::call_once(table_->made, [this] { table_->make(pair_); });
  return *table_;
}

const BlurredBoundary& BlurredBoundary::of_copper_and_nickel() {
  static const BlurredBoundary boundary(copper_and_nickel());
  return boundary;
}

double BlurredBoundary::slow_reach(double in_quick, double in_slow) {
  return 6.0 * std::sqrt(in_slow) + 0.175 * std::sqrt(in_quick);
}

bool BlurredBoundary::fill(double in_quick, double in_slow, double quick_depth, double slow_depth,
                           const Properties& slow, const Properties& quick, std::span<Sublayer> out) const {
  const double spread = std::sqrt(in_quick), slow_unit = std::sqrt(in_slow), reach = slow_reach(in_quick, in_slow);
  if (!(reach <= slow_depth && spread <= most_spread * quick_depth)) return false;
  const double quick_side = std::min(quick_reach * spread, quick_depth);

  const Table& made = table();
  const std::size_t ratios = made.by_ratio.nodes().size();
  const double log_ratio = in_quick > 0.0 ? std::log(in_slow / in_quick) : made.range.least;
  std::array<double, most_ratios> by_ratio;
  made.by_ratio.at(std::clamp(log_ratio, made.range.least, made.range.most), by_ratio);

  // A quick layer that the diffusion does not fill looks the same at every depth.
  std::array<double, 4> by_depth = {1.0, 0.0, 0.0, 0.0};
  std::size_t first = 0, nodes = 1;
  if (quick_reach * spread > quick_depth) {
    const double along = (std::log(spread / quick_depth) - least_log_depth) / depth_step;
    first = static_cast<std::size_t>(std::clamp(along - 1.0, 0.0, static_cast<double>(depths - 4)));
    nodes = 4;
    static const Weights evenly({0.0, 1.0, 2.0, 3.0});
    evenly.at(along - static_cast<double>(first), by_depth);
  }

  alignas(32) std::array<double, row> sum;
  for (std::size_t i = 0; i < row; i += quad_lanes) {
    Quad total = quad_of(0.0);
    for (std::size_t d = 0; d < nodes; ++d) {
      for (std::size_t r = 0; r < ratios; ++r)
        total += by_depth[d] * by_ratio[r] * load_quad(made.values, ((first + d) * ratios + r) * row + i);
    }
    store_quad(total, sum, i);
  }

  const double gap = sum[0] * slow_unit;
  if (gap < least_gap * reach) return false;

  const double more_slow = 1.0 / slow.conductivity - pair_.resistivities.front(),
               more_quick = 1.0 / quick.conductivity - pair_.resistivities.back();
  const double slow_slope = slow.temperature_coefficient / slow.conductivity;
  const double quick_slope = quick.temperature_coefficient / quick.conductivity;
  for (std::size_t cell = 0; cell < cells; ++cell) {
    const double* figure = &sum[1 + cell];
    Sublayer& to = out[cell];
    to.thickness = cell < slow_cells
                       ? slow_edge(cell, gap, reach) - slow_edge(cell + 1, gap, reach)
                       : (quick_edges[cell + 1 - slow_cells] - quick_edges[cell - slow_cells]) * quick_side;
    // What is beyond the pure metals' resistivity counts to first order within a sublayer, in a form that stays sound
    // for metals many times as resistive: moments fall with its square, and never take all.
    const double pure = figure[resistivity * cells];
    const double beyond = (more_slow * figure[of_slow * cells] + more_quick * figure[of_quick * cells]) / pure;
    const double shifted = figure[shift * cells] * (1.0 + 2.0 * beyond) - more_slow * figure[shift_of_slow * cells] -
                           more_quick * figure[shift_of_quick * cells];
    const double ohm = pure * (1.0 + beyond), part = figure[quick_part * cells];
    to.metal.conductivity = 1.0 / ohm + std::max(shifted / ((1.0 + beyond) * (1.0 + beyond)), -0.9 / ohm);
    to.metal.permeability = 1.0 + (slow.permeability - 1.0) * std::max(0.0, figure[magnetic * cells]);
    to.metal.temperature_coefficient = ((1.0 - part) * slow_slope + part * quick_slope) / ohm;
  }
  if (pair_.magnetic_until > 0.0) widen_gap(out[slow_cells - 2], out[slow_cells - 1]);
  return true;
}

}  // namespace mintspread::materials
