#pragma once

#include <cmath>
#include <complex>
#include <cstddef>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/constants.hpp"
#include "engine/signature/planar.hpp"

namespace mintspread::reference {

using Complex = std::complex<double>;

struct Layer {
  double thickness, conductivity, permeability;
};

/// Stacks side by side, all of the same number of layers.
class Stacks {
 public:
  Stacks(std::size_t layers, std::size_t lanes) : columns_(3 * layers + 1, lanes) {
    for (std::size_t i = 0; i < layers; ++i)
      layers_.push_back({columns_[3 * i], columns_[3 * i + 1], columns_[3 * i + 2]});
  }
  /// The same stack in eight lanes.
  Stacks(const std::vector<Layer>& layers, double distance) : Stacks(layers.size(), 8) {
    for (std::size_t lane = 0; lane < 8; ++lane) {
      for (std::size_t i = 0; i < layers.size(); ++i) set(lane, i, layers[i]);
      set_distance(lane, distance);
    }
  }
  void set(std::size_t lane, std::size_t layer, Layer to) {
    columns_[3 * layer][lane] = to.thickness;
    columns_[3 * layer + 1][lane] = to.conductivity;
    columns_[3 * layer + 2][lane] = to.permeability;
  }
  void set_distance(std::size_t lane, double distance) { columns_[columns_.count() - 1][lane] = distance; }
  signature::PlanarBlock block() const { return {layers_, columns_[columns_.count() - 1]}; }

 private:
  Columns columns_;
  std::vector<signature::LayerColumns> layers_;
};

/// rho (reflected) or tau (transmitted) of one lane's stack at one spatial frequency: surface admittances from the
/// lowest layer up, after Dodd & Deeds, J. Appl. Phys. 39, 2829 (1968), and Cheng, Dodd & Deeds, Int. J. Nondestr.
/// Test. 3, 109 (1971).
inline Complex response(signature::Coupling coupling, Complex s, double k, const signature::PlanarBlock& block,
                        std::size_t lane) {
  Complex surface = k, through = 1.0;
  for (std::size_t i = block.layers.size(); i-- > 0;) {
    const double thickness = block.layers[i].thickness[lane], permeability = block.layers[i].permeability[lane];
    const Complex kappa = std::sqrt(k * k + s * mu0 * permeability * block.layers[i].conductivity[lane]);
    const Complex eta = kappa / permeability;
    const Complex once = std::exp(-kappa * thickness), twice = once * once;
    const Complex ratio = surface / eta;
    through *= 2.0 * once / ((1.0 + ratio) + (1.0 - ratio) * twice);
    surface = eta * (surface * (1.0 + twice) + eta * (1.0 - twice)) / (eta * (1.0 + twice) + surface * (1.0 - twice));
  }
  if (coupling == signature::Coupling::reflected) return (k - surface) / (k + surface);
  return 2.0 * k / (k + surface) * through;
}

/// One lane of mutual_inductance with the rule's own nodes.
inline Complex mutual_inductance(const signature::PlanarRule& rule, Complex s, const signature::PlanarBlock& block,
                                 std::size_t lane) {
  Complex sum = 0.0;
  for (std::size_t j = 0; j < rule.nodes.size(); ++j)
    sum += rule.weights[j] * std::exp(-rule.nodes[j] * (block.distance[lane] - rule.reference_distance)) *
           response(rule.coupling, s, rule.nodes[j], block, lane);
  return sum;
}

/// The value with nothing but air in the coin's place, and every |response| taken as 1.
inline double air(const signature::PlanarRule& rule, const signature::PlanarBlock& block, std::size_t lane) {
  double gap = rule.coupling == signature::Coupling::transmitted ? block.distance[lane] : block.distance[lane];
  if (rule.coupling == signature::Coupling::transmitted)
    for (const signature::LayerColumns& layer : block.layers) gap += layer.thickness[lane];
  double sum = 0.0;
  for (std::size_t j = 0; j < rule.nodes.size(); ++j)
    sum += rule.weights[j] * std::exp(-rule.nodes[j] * (gap - rule.reference_distance));
  return sum;
}

}  // namespace mintspread::reference
