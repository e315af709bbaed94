#include "engine/statistics/nested_variance.hpp"

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

NestedVariance components(const NestedMeanSquares& squares) {
  const auto n = static_cast<double>(squares.pieces_a_load);
  const auto b = static_cast<double>(squares.loads_a_lot);
  if (squares.loads_a_lot == 1) return {(squares.lots - squares.pieces) / n, 0.0, squares.pieces};
  return {(squares.lots - squares.loads) / (b * n), (squares.loads - squares.pieces) / n, squares.pieces};
}

NestedMeanSquares mean_squares(std::span<const std::vector<Moments>> lots) {
  expect(lots.size() >= 2 && !lots.front().empty(), "components need two lots");
  const std::size_t loads = lots.front().size();
  Moments lot_means;
  double piece_squares = 0.0, load_squares = 0.0;
  std::uint64_t pieces = 0;
  for (const auto& lot : lots) {
    expect(lot.size() == loads, "lots have equally many loads");
    Moments load_means;
    for (const Moments& load : lot) {
      expect(load.count() >= 2, "loads have two pieces");
      pieces += load.count();
      piece_squares += load.m2();
      const double mean = load.mean();
      load_means.add(std::span(&mean, 1));
    }
    load_squares += load_means.m2();
    const double mean = load_means.mean();
    lot_means.add(std::span(&mean, 1));
  }
  const auto a = static_cast<double>(lots.size());
  const auto b = static_cast<double>(loads);
  const double n = static_cast<double>(pieces) / (a * b);
  return {lot_means.m2() * b * n / (a - 1.0), loads > 1 ? load_squares * n / (a * (b - 1.0)) : 0.0,
          piece_squares / (static_cast<double>(pieces) - a * b), loads, static_cast<std::size_t>(n + 0.5)};
}

}  // namespace mintspread::statistics
