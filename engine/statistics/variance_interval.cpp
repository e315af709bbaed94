#include "engine/statistics/variance_interval.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <boost/math/distributions/fisher_f.hpp>
#include <boost/random/sobol.hpp>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {

using boost::math::chi_squared;
using boost::math::complement;
using boost::math::fisher_f;

double square(double x) { return x * x; }

/// Of the estimate's distance from a bound: `near` is the tail that the positive terms fall in, a for the lower bound,
/// 1 - a for the upper one.
double half_width(std::span<const MeanSquareTerm> terms, double near) {
  // 1 - 1 / F(near; n, inf) of a term with c > 0, 1 / F(1 - near; n, inf) - 1 of one with c < 0; with near = 1 - a
  // these are -H and -G, of which only squares are used.
  const auto own = [&](const MeanSquareTerm& term) {
    const double tail = term.coefficient > 0.0 ? near : 1.0 - near;
    const double one = term.freedom / quantile(complement(chi_squared(term.freedom), tail));
    return term.coefficient > 0.0 ? 1.0 - one : one - 1.0;
  };
  double squares = 0.0;
  for (const MeanSquareTerm& term : terms) squares += square(own(term) * term.coefficient * term.mean_square);
  for (const MeanSquareTerm& plus : terms) {
    if (!(plus.coefficient > 0.0)) continue;
    for (const MeanSquareTerm& minus : terms) {
      if (!(minus.coefficient < 0.0)) continue;
      const double f = quantile(complement(fisher_f(plus.freedom, minus.freedom), near));
      const double cross = (square(f - 1.0) - square(own(plus) * f) - square(own(minus))) / f;
      squares += cross * plus.coefficient * -minus.coefficient * plus.mean_square * minus.mean_square;
    }
  }
  return std::sqrt(std::max(squares, 0.0));
}

}  // namespace

Interval variance_interval(std::span<const MeanSquareTerm> terms, double confidence) {
  double sum = 0.0;
  for (const MeanSquareTerm& term : terms) {
    expect(term.freedom > 0.0, "a mean square has degrees of freedom");
    sum += term.coefficient * term.mean_square;
  }
  const double tail = 0.5 * (1.0 - confidence);
  return {std::max(0.0, sum - half_width(terms, tail)), std::max(0.0, sum + half_width(terms, 1.0 - tail))};
}

std::vector<Interval> share_intervals(const ComponentsOfVariance& components, double confidence, int bits) {
  const std::size_t terms = components.mean_squares.size(), variances = components.multiples.size();
  expect(bits >= 6 && bits <= 16, "there are enough points, and not too many");
  const std::size_t points = std::size_t{1} << bits;
  // The first 2^bits points have each multiple of 2^-bits once in every dimension; the middle of its cell stands for
  // it.
  boost::random::sobol engine(terms);
  std::vector<std::vector<double>> possible(terms);  // [term][cell]
  for (std::size_t term = 0; term < terms; ++term) {
    const double freedom = components.freedom[term];
    if (!(freedom > 0.0)) continue;
    const chi_squared law(freedom);
    for (std::size_t cell = 0; cell < points; ++cell) {
      const double p = (static_cast<double>(cell) + 0.5) / static_cast<double>(points);
      possible[term].push_back(freedom * components.mean_squares[term] / quantile(law, p));
    }
  }
  std::vector<std::vector<double>> shares(variances);
  std::vector<double> squares(terms), found(variances);
  for (std::size_t point = 0; point < points; ++point) {
    for (std::size_t term = 0; term < terms; ++term) {
      const auto cell = static_cast<std::size_t>(engine() >> (64 - bits));
      squares[term] = possible[term].empty() ? 0.0 : possible[term][cell];
    }
    double sum = 0.0;
    for (std::size_t v = 0; v < variances; ++v) {
      found[v] = 0.0;
      for (std::size_t term = 0; term < terms; ++term) found[v] += components.multiples[v][term] * squares[term];
      sum += found[v] = std::max(found[v], 0.0);
    }
    for (std::size_t v = 0; v < variances; ++v) shares[v].push_back(sum > 0.0 ? found[v] / sum : 0.0);
  }
  std::vector<Interval> out;
  const auto rank = static_cast<std::size_t>(std::lround(0.5 * (1.0 - confidence) * static_cast<double>(points)));
  for (std::vector<double>& share : shares) {
    std::sort(share.begin(), share.end());
    out.push_back({share[rank], share[points - 1 - rank]});
  }
  return out;
}

}  // namespace mintspread::statistics
