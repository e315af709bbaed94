#pragma once

#include <array>
#include <cstdint>
#include <span>
#include <vector>

#include "engine/sampling/law.hpp"

namespace mintspread::sampling {

/// The quantile function of a law as piecewise polynomials in the standard normal score z over [-8.5, 8.5], where even
/// far tails are smooth; scores beyond (probability 2e-17) count as the ends. The pieces end at the law's joints and
/// are halved until the law itself, asked at the tabulated values, returns Phi(z) to 1e-11 relative in the smaller
/// tail, as far as the last digits of the value (1e-14 of it) can carry that; a jump, as between two separate parts, is
/// left within 1e-11 of z. ContractBroken when a law's quantiles and probabilities do not agree.
class ScoreTable {
 public:
  explicit ScoreTable(const Law& law);

  double at(double z) const {
    const double inside = z < -reach ? -reach : z > reach ? reach : z;
    // A guide per cell of the score leads to its first piece; few cells hold more than one.
    std::uint32_t k = guide_[static_cast<std::size_t>((inside + reach) * cells_per_score)];
    while (inside > pieces_[k].upper) ++k;
    const Piece& piece = pieces_[k];
    const double t = (inside - piece.middle) * piece.inverse_half;
    double value = piece.coefficients[degree];
    for (std::size_t i = degree; i-- > 0;) value = value * t + piece.coefficients[i];
    return value < piece.least ? piece.least : value > piece.most ? piece.most : value;
  }

  static constexpr double reach = 8.5;

 private:
  static constexpr std::size_t degree = 9;
  static constexpr double cells_per_score = 16.0;
  /// Values in [least, most]: rounding at a joint must not carry a value past it.
  struct Piece {
    double upper, middle, inverse_half, least, most;
    std::array<double, degree + 1> coefficients;
  };
  void add(const Law& law, double lower, double upper);
  static Piece fit(const Law& law, double lower, double upper);
  static bool holds(const Law& law, const Piece& piece, double lower, double upper);

  std::vector<Piece> pieces_;
  std::vector<std::uint32_t> guide_;
};

}  // namespace mintspread::sampling
