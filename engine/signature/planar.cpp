#include "engine/signature/planar.hpp"

#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;

/// rho or tau of one lane's stack at one spatial frequency; layers from the lowest up, decaying exponentials only.
Complex response(Coupling coupling, Complex s, double k, const PlanarBlock& block, std::size_t lane) {
  Complex surface = k, through = 1.0;
  for (std::size_t i = block.layers.size(); i-- > 0;) {
    const LayerColumns& layer = block.layers[i];
    const double thickness = layer.thickness[lane], permeability = layer.permeability[lane];
    const Complex kappa = std::sqrt(k * k + s * mu0 * permeability * layer.conductivity[lane]);
    const Complex eta = kappa / permeability;
    const Complex once = std::exp(-kappa * thickness), twice = once * once;
    const Complex ratio = surface / eta;
    through *= 2.0 * once / ((1.0 + ratio) + (1.0 - ratio) * twice);
    const Complex tanh = (1.0 - twice) / (1.0 + twice);
    surface = eta * (surface + eta * tanh) / (eta + surface * tanh);
  }
  if (coupling == Coupling::reflected) return (k - surface) / (k + surface);
  return 2.0 * k / (k + surface) * through;
}

}  // namespace

void mutual_inductance(const PlanarRule& rule, std::span<const Complex> s, const PlanarBlock& block, Columns& out) {
  for (std::size_t m = 0; m < s.size(); ++m) {
    for (std::size_t lane = 0; lane < block.lanes(); ++lane) {
      Complex sum = 0.0;
      for (std::size_t j = 0; j < rule.nodes.size(); ++j) {
        const double k = rule.nodes[j];
        sum += rule.weights[j] * std::exp(-k * (block.distance[lane] - rule.reference_distance)) *
               response(rule.coupling, s[m], k, block, lane);
      }
      out[2 * m][lane] = sum.real();
      out[2 * m + 1][lane] = sum.imag();
    }
  }
}

const char* processor_path() { return "scalar"; }

}  // namespace mintspread::signature
