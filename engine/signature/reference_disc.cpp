#include "engine/signature/reference_disc.hpp"

#include <limits>

#include "engine/base/contract.hpp"

namespace mintspread::signature {

std::vector<std::complex<double>> reference_disc_couplings(const ReferencePiece& piece, std::span<const DiscCoil> coils,
                                                           std::span<const std::complex<double>> s) {
  expect(piece.diameter > 0.0 && piece.layers.size() == 1, "a reference disc has a diameter and one layer");
  const ReferencePiece::Layer& layer = piece.layers.front();
  const Disc disc{piece.diameter, layer.thickness, 0.0, 0.0, 0.0, {layer.conductivity, layer.permeability}, {}};
  constexpr double nan = std::numeric_limits<double>::quiet_NaN();
  std::vector<std::complex<double>> couplings;
  for (const auto& frequency : s) {
    // They fix a scale once, for all coins.
    const auto solution = solve_disc(disc, coils, frequency, {DiscResolution::fine, false, false});
    const bool solved = solution.status == DiscStatus::solved;
    couplings.push_back(solved ? solution.between(0, coils.size() - 1) : std::complex<double>(nan, nan));
  }
  return couplings;
}

}  // namespace mintspread::signature
