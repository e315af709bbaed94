#include "engine/materials/blurred_boundary.hpp"

#include <algorithm>
#include <array>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <mutex>
#include <utility>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/base/quad.hpp"
#include "engine/materials/interdiffusion.hpp"
#include "engine/materials/moment_steps.hpp"

namespace mintspread::materials {

namespace {

constexpr std::size_t points = 8;  // of the rule of each zone

// Where nothing is magnetic the two zones meet at this part of the slow side's reach.
constexpr double plain_gap = 0.5;

// Nodes of the table. ln(ratio): Chebyshev's points over what the pair has from coldest_diffusion to hottest_diffusion,
// one for each half or less. ln(sqrt(theta) / depth): evenly from 1/6, below which the quick layer counts as unlimited,
// to 1.5.
constexpr std::size_t depths = 36, most_ratios = 16;
constexpr double ratio_step = 0.5;
const double least_log_depth = std::log(1.0 / BlurredBoundary::quick_reach),
             most_log_depth = std::log(BlurredBoundary::most_spread);
const double depth_step = (most_log_depth - least_log_depth) / (depths - 1);

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

/// Where in a row of the table a figure stands. The boundary has two zones, the magnetic one and the other. In each,
/// places run from 0 to 1 towards the quick metal; resistivity and composition stand at the points of a rule, and with
/// them what the rule leaves out of the moments of the pure metals' conductivity, which is all but exact then for any
/// metals.
struct BlurredBoundary::Row {
  static constexpr std::size_t gap = 0;               ///< of what is not magnetic, in sqrt(INT D dt in the slow metal)
  static constexpr std::size_t edges = 1, steps = 3;  ///< of the magnetic zone's composition
  static constexpr std::array<std::size_t, 2> left_out = {6, 9}, resistivity = {12, 12 + 2 * points},
                                              quick = {12 + points, 12 + 3 * points};
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

}  // namespace

struct BlurredBoundary::Table {
  explicit Table(const DiffusionPair& pair) : range(log_ratios(pair)), by_ratio(ratio_nodes(range)) {}
  void make(const DiffusionPair& pair);

  std::once_flag made;
  Range range;
  Weights by_ratio;
  std::vector<double> values;  ///< rows by depth and ratio
};

void BlurredBoundary::Table::make(const DiffusionPair& pair) {
  static_assert(row == 12 + 4 * points && row % quad_lanes == 0);
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
      const double unit = std::sqrt(ratio) * spread, gap = gap_of(pair, couple, unit, reach);
      to[Row::gap] = gap;
      const std::array<double, 3> edge = {-reach * unit, -gap * unit, std::min(quick_reach * spread, 1.0)};
      for (std::size_t zone = 0; zone < 2; ++zone) {
        const auto quick_at = [&](double z) { return couple.at(edge[zone] + z * (edge[zone + 1] - edge[zone])); };
        const auto exact = moments_of<3>([&](double z) { return 1.0 / resistivity_at(quick_at(z)); });
        for (std::size_t n = 0; n < 3; ++n) to[Row::left_out[zone] + n] = exact[n];
        const Rule& rule = rules()[zone];
        for (std::size_t i = 0; i < points; ++i) {
          const double c = quick_at(rule.place[i]), ohm = resistivity_at(c);
          to[Row::quick[zone] + i] = c;
          to[Row::resistivity[zone] + i] = ohm;
          for (std::size_t n = 0; n < 3; ++n) to[Row::left_out[zone] + n] -= rule.weight[n][i] / ohm;
        }
        if (zone > 0) continue;
        const auto h = moments_of<5>(quick_at);
        const auto edges = three_step_edges(h);
        std::ranges::copy(edges, to + Row::edges);
        std::ranges::copy(three_values(edges, {h[0], h[1], h[2]}), to + Row::steps);
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

bool BlurredBoundary::diffuse(double in_quick, double in_slow, double quick_depth, Profile& to) const {
  const double spread = std::sqrt(in_quick);
  if (!(spread <= most_spread * quick_depth)) return false;
  to.reach = slow_reach(in_quick, in_slow);
  to.quick_side = std::min(quick_reach * spread, quick_depth);

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
  for (std::size_t i = 0; i < row; i += quad_lanes) {
    Quad total = quad_of(0.0);
    for (std::size_t d = 0; d < nodes; ++d) {
      for (std::size_t r = 0; r < ratios; ++r)
        total += by_depth[d] * by_ratio[r] * load_quad(made.values, ((first + d) * ratios + r) * row + i);
    }
    store_quad(total, to.figures, i);
  }
  to.gap = to.figures[Row::gap] * std::sqrt(in_slow);
  return pair_.magnetic_until == 0.0 || to.gap >= least_gap * to.reach;
}

bool BlurredBoundary::cut(const Profile& profile, double slow_depth, const Properties& slow, const Properties& quick,
                          std::span<Sublayer> out) const {
  if (!(profile.reach <= slow_depth)) return false;
  const bool is_magnetic = pair_.magnetic_until > 0.0;
  const double magnetism_fall = is_magnetic ? 1.0 / pair_.magnetic_until : 0.0;
  const Quad more_slow = quad_of(1.0 / slow.conductivity - pair_.resistivities.front()),
             more_quick = quad_of(1.0 / quick.conductivity - pair_.resistivities.back());
  const auto& figures = profile.figures;
  const double susceptibility = is_magnetic ? slow.permeability - 1.0 : 0.0;

  std::array<Moments<3>, 2> conductance;
  Moments<2> part;                     // that is quick in the zone that is not magnetic
  double squared = 0.0, linear = 0.0;  // INT m^2 / (1 + X m) dz and INT m dz, below
  for (std::size_t zone = 0; zone < 2; ++zone) {
    const Rule& rule = rules()[zone];
    std::array<Quad, 3> of_conductance{};
    std::array<Quad, 2> of_part{};
    Quad of_square{}, of_magnetism{};
    for (std::size_t i = 0; i < points; i += quad_lanes) {
      const Quad c = load_quad(figures, Row::quick[zone] + i), ohm = load_quad(figures, Row::resistivity[zone] + i);
      const Quad conductivity = 1.0 / (ohm + ((1.0 - c) * more_slow + c * more_quick));
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

  const double slow_slope = slow.temperature_coefficient / slow.conductivity;
  const double quick_slope = quick.temperature_coefficient / quick.conductivity;
  const auto metal = [&](double conductivity, double permeability, double part_quick) {
    return Properties{conductivity, permeability,
                      ((1.0 - part_quick) * slow_slope + part_quick * quick_slope) * conductivity};
  };

  const TwoSteps steps = two_steps(conductance[1]);
  std::array<double, 2> in_other = steps.value;
  keep_conducting(in_other, conductance[1][0]);
  const double change = (part[1] - part[0]) / (steps.edge * steps.edge - steps.edge);
  const double last_part = part[0] - change * steps.edge;
  const double first = steps.edge * (profile.gap + profile.quick_side);
  const double before = std::min(first, profile.gap),
               behind = first - before;  // the first boundary may lie in either step

  // Lines of force that cross the magnetic zone meet INT dx / mu, which is more than steps of the permeability tell:
  // the last of them is made shorter and as much more magnetic as gives both integrals, and the rest goes to what is
  // not magnetic. With m the magnetism and X the susceptibility, 1 / (1 + X m) = 1 - X m + X^2 m^2 / (1 + X m) leaves
  // the last term to be met, which is sound for any X.
  const double magnetic_side = profile.reach - profile.gap;
  const std::array<double, 2> edge = {figures[Row::edges], figures[Row::edges + 1]};
  ThreeValues length = {edge[0], edge[1] - edge[0], 1.0 - edge[1]}, magnetism, quick_part;
  for (std::size_t i = 0; i < 3; ++i) {
    quick_part[i] = figures[Row::steps + i];
    magnetism[i] = std::max(0.0, 1.0 - magnetism_fall * quick_part[i]);
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
              metal(in_magnetic[i], 1.0 + susceptibility * magnetism[i], quick_part[i])};
  const double with_moved =
      first > 0.0 ? (in_other[0] * first + in_magnetic[2] * moved) / (first + moved) : in_other[0];
  out[magnetic_cells] = {before + moved, behind, metal(with_moved, 1.0, last_part + change)};
  out[magnetic_cells + 1] = {profile.gap - before, profile.quick_side - behind, metal(in_other[1], 1.0, last_part)};
  return true;
}

}  // namespace mintspread::materials
