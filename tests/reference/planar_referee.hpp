#pragma once

#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <complex>
#include <cstddef>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/constants.hpp"
#include "engine/signature/coil_spectrum.hpp"
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
  double gap = block.distance[lane];
  if (rule.coupling == signature::Coupling::transmitted)
    for (const signature::LayerColumns& layer : block.layers) gap += layer.thickness[lane];
  double sum = 0.0;
  for (std::size_t j = 0; j < rule.nodes.size(); ++j)
    sum += rule.weights[j] * std::exp(-rule.nodes[j] * (gap - rule.reference_distance));
  return sum;
}

/// INT W1 W2 exp(-k distance) response dk, pi mu0 times, in one lane, by Gauss-Legendre panels that are shorter than
/// any scale of the integrand. With `modulus` every factor is taken by its modulus.
enum class Of { value, modulus };
inline Complex integral(const signature::Coil& drive, const signature::Coil& receive, signature::Coupling coupling,
                        Complex s, const signature::PlanarBlock& block, std::size_t lane, Of of = Of::value) {
  using Legendre = boost::math::quadrature::gauss<double, 20>;
  const double distance = block.distance[lane];
  const double longest = 4.0 / (drive.outer_radius + receive.outer_radius + distance + drive.length + receive.length);
  Complex total = 0.0;
  double lower = 0.0, step = 1e-6 * longest, size = 0.0;
  for (int small = 0; small < 4;) {
    double part = 0.0;
    const std::size_t half = Legendre::abscissa().size();
    for (std::size_t i = 0; i < 2 * half; ++i) {
      const double k = lower + 0.5 * step * (1.0 + (i < half ? -1.0 : 1.0) * Legendre::abscissa()[i % half]);
      const double weight = 0.5 * step * Legendre::weights()[i % half] * pi * mu0 * std::exp(-k * distance) *
                            signature::coil_weight(drive, k) * signature::coil_weight(receive, k);
      const Complex at = weight * response(coupling, s, k, block, lane);
      total += of == Of::value ? at : std::abs(at);
      part += std::abs(weight);
    }
    size += part;
    lower += step;
    small = part * (lower / step) < 1e-14 * size ? small + 1 : 0;
    step = std::min(longest, 2.0 * step);
  }
  return total;
}

}  // namespace mintspread::reference
