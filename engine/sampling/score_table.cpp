#include "engine/sampling/score_table.hpp"

#include <algorithm>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/sampling/normal_score.hpp"

namespace mintspread::sampling {

namespace {

constexpr double narrowest = 1e-11;
constexpr std::size_t most_pieces = 200000;

TwoSided probability_of(double z) { return {normal_cdf(z), normal_cdf(-z)}; }

double score_of(double lower, double upper) {
  const double z = lower <= upper ? normal_score(lower) : -normal_score(upper);
  return std::clamp(z, -ScoreTable::reach, ScoreTable::reach);
}

// Does `law` place the value at the score's probability, give or take `slack` in the value?
bool agrees(const Law& law, double value, double z, double slack) {
  constexpr double tolerance = 1e-11;
  const TwoSided p = probability_of(z);
  if (z < 0.0)
    return law.below(value - slack) <= p.lower * (1.0 + tolerance) + law.rounding() &&
           law.up_to(value + slack) >= p.lower * (1.0 - tolerance) - law.rounding();
  return law.above(value + slack) <= p.upper * (1.0 + tolerance) + law.rounding() &&
         law.from(value - slack) >= p.upper * (1.0 - tolerance) - law.rounding();
}

}  // namespace

ScoreTable::Piece ScoreTable::fit(const Law& law, double lower, double upper) {
  constexpr std::size_t n = degree + 1;
  Piece piece{upper, 0.5 * (lower + upper), 2.0 / (upper - lower), 0.0, 0.0, {}};
  // Interpolation in the zeros of T_n: coefficients of Chebyshev polynomials by their discrete orthogonality.
  std::array<double, n> values, chebyshev;
  for (std::size_t k = 0; k < n; ++k) {
    const double t = std::cos(pi * (static_cast<double>(k) + 0.5) / n);
    values[k] = law.quantile(probability_of(piece.middle + t / piece.inverse_half));
  }
  for (std::size_t j = 0; j < n; ++j) {
    double sum = 0.0;
    for (std::size_t k = 0; k < n; ++k)
      sum += values[k] * std::cos(pi * static_cast<double>(j) * (static_cast<double>(k) + 0.5) / n);
    chebyshev[j] = (j == 0 ? 1.0 : 2.0) * sum / n;
  }
  // To powers of t, with T_{j+1} = 2 t T_j - T_{j-1}.
  std::array<double, n> before{}, now{};
  before[0] = 1.0;
  now[1] = 1.0;
  piece.coefficients[0] = chebyshev[0];
  for (std::size_t j = 1; j < n; ++j) {
    for (std::size_t i = 0; i <= j; ++i) piece.coefficients[i] += chebyshev[j] * now[i];
    std::array<double, n> next{};
    for (std::size_t i = 0; i < n; ++i) next[i] = (i > 0 ? 2.0 * now[i - 1] : 0.0) - before[i];
    before = now;
    now = next;
  }
  piece.least = law.quantile(probability_of(std::nextafter(lower, upper)));
  piece.most = std::max(piece.least, law.quantile(probability_of(std::nextafter(upper, lower))));
  return piece;
}

bool ScoreTable::holds(const Law& law, const Piece& piece, double lower, double upper) {
  const double slack = 1e-14 * std::max(std::abs(piece.least), std::abs(piece.most));
  for (double part : {0.002, 0.07, 0.2, 0.36, 0.5, 0.65, 0.8, 0.93, 0.998}) {
    const double z = lower + part * (upper - lower);
    const double t = (z - piece.middle) * piece.inverse_half;
    double value = piece.coefficients[degree];
    for (std::size_t i = degree; i-- > 0;) value = value * t + piece.coefficients[i];
    if (!agrees(law, std::clamp(value, piece.least, piece.most), z, slack)) return false;
  }
  return true;
}

void ScoreTable::add(const Law& law, double lower, double upper) {
  Piece piece = fit(law, lower, upper);
  const bool narrow = upper - lower < narrowest;
  if (narrow) {
    piece.coefficients = {0.5 * (piece.least + piece.most), 0.5 * (piece.most - piece.least)};
  } else if (!holds(law, piece, lower, upper)) {
    const double middle = 0.5 * (lower + upper);
    add(law, lower, middle);
    add(law, middle, upper);
    return;
  }
  expect(pieces_.size() < most_pieces, "a tabulated quantile function agrees with its distribution");
  pieces_.push_back(piece);
}

ScoreTable::ScoreTable(const Law& law) {
  std::vector<double> ends{-reach, reach};
  for (double joint : law.joints()) {
    ends.push_back(score_of(law.below(joint), law.from(joint)));
    ends.push_back(score_of(law.up_to(joint), law.above(joint)));
  }
  std::sort(ends.begin(), ends.end());
  for (std::size_t i = 0; i + 1 < ends.size(); ++i) {
    const double length = ends[i + 1] - ends[i];
    // Joints told apart by rounding only leave nothing between them to tabulate.
    if (length < 1e-12) continue;
    const auto parts = std::ceil(length / 0.5);
    for (double k = 0.0; k < parts; ++k)
      add(law, ends[i] + length * (k / parts), k + 1.0 < parts ? ends[i] + length * ((k + 1.0) / parts) : ends[i + 1]);
  }
  expect(!pieces_.empty(), "a table of quantiles has a piece");
  pieces_.back().upper = reach;
  std::uint32_t k = 0;
  const auto cells = static_cast<std::size_t>(2.0 * reach * cells_per_score) + 1;
  for (std::size_t cell = 0; cell < cells; ++cell) {
    while (pieces_[k].upper < static_cast<double>(cell) / cells_per_score - reach) ++k;
    guide_.push_back(k);
  }
}

}  // namespace mintspread::sampling
