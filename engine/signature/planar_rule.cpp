#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <complex>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/signature/coil_spectrum.hpp"
#include "engine/signature/planar.hpp"

namespace mintspread::signature {

namespace {

struct Grid {
  std::vector<double> nodes, weights;
};

/// Gauss-Legendre panels over [0, end] that follow the oscillation of both coils' spectra and the decay exp(-k
/// distance); ends where what is left of |W1 W2| exp(-k distance) is below 1e-14 of the whole.
Grid panels(const Coil& drive, const Coil& receive, double distance) {
  using Points = boost::math::quadrature::gauss<double, 10>;
  const double reach = drive.outer_radius + receive.outer_radius + distance + drive.length + receive.length;
  const double longest = 5.0 / reach;
  Grid grid;
  double lower = 0.0, step = 0.02 * longest, total = 0.0;
  int small = 0;
  while (small < 4) {
    double part = 0.0;
    const double centre = lower + 0.5 * step;
    for (std::size_t i = 0; i < Points::abscissa().size(); ++i) {
      for (const double sign : {-1.0, 1.0}) {
        const double k = centre + sign * 0.5 * step * Points::abscissa()[i];
        const double weight = 0.5 * step * Points::weights()[i] * coil_weight(drive, k) * coil_weight(receive, k);
        grid.nodes.push_back(k);
        grid.weights.push_back(pi * mu0 * weight);
        part += std::abs(weight) * std::exp(-k * distance);
      }
    }
    total += part;
    lower += step;
    small = part * (lower / step) < 1e-14 * total ? small + 1 : 0;
    step = std::min(longest, 1.5 * step);
  }
  return grid;
}

}  // namespace

PlanarRule make_rule(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const std::complex<double>>,
                     const PlanarBlock& box, double) {
  expect(box.lanes() > 0, "a planar rule is made for at least one lane");
  const double least = *std::min_element(box.distance.begin(), box.distance.end());
  Grid grid = panels(drive, receive, std::max(0.0, least));
  PlanarRule rule;
  rule.coupling = coupling;
  rule.nodes = std::move(grid.nodes);
  rule.weights = std::move(grid.weights);
  rule.error = 1e-10;
  return rule;
}

}  // namespace mintspread::signature
