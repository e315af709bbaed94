#include "engine/statistics/anderson_darling.hpp"

#include <algorithm>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

double anderson_darling(std::span<const Seen> ascending) {
  double n = 0.0;
  for (const Seen& value : ascending) n += static_cast<double>(value.count);
  expect(n > 0.0, "a statistic of something");
  double sum = 0.0, before = 0.0;
  for (const Seen& value : ascending) {
    const double after = before + static_cast<double>(value.count);
    // Equal values share consecutive ranks, whose odd weights sum to differences of squares.
    const double rising = after * after - before * before;
    const double falling = (n - before) * (n - before) - (n - after) * (n - after);
    sum += rising * std::log(value.below) + falling * std::log(value.above);
    before = after;
  }
  return -n - sum / n;
}

namespace {

/// INTEGRAL (a + s u)^2 / (u (1 - u)) du = a^2 ln(u2 / u1) + (a + s)^2 ln((1 - u1) / (1 - u2)) - s^2 (u2 - u1), told by
/// the values of a + s u - u = F_n - F at both ends.
double squared_distance(double below_1, double above_1, double below_2, double above_2, double f_1, double f_2) {
  const double width = below_1 < 0.5 ? below_2 - below_1 : above_1 - above_2;
  if (!(width > 0.0)) return 0.0;
  const double slope = (f_2 - f_1) / width - 1.0;
  const double at_zero = (f_1 - below_1) - slope * below_1;
  const double at_one = (f_2 - 1.0 + above_2) + slope * above_2;
  const auto term = [](double factor, double ratio) {
    return std::abs(factor) < 1e-12 ? 0.0 : factor * factor * std::log(ratio);
  };
  return term(at_zero, below_2 / below_1) + term(at_one, above_1 / above_2) - slope * slope * width;
}

/// INTEGRAL (u - u1) (u2 - u) / (u (1 - u)) du / (u2 - u1)^2.
double hidden(const SeenBetween& bin) {
  const double u = bin.below_lower, v = bin.below_upper, p = bin.above_lower, q = bin.above_upper;
  const double width = u < 0.5 ? v - u : p - q;
  if (!(width > 0.0)) return 0.0;
  // The closed form loses its digits where the bin is narrow, and the integrand is then all but t (1 - t).
  if (width < 1e-3 * std::min(u, q)) return width / (6.0 * u * q);
  const double low = u > 0.0 ? u * v * std::log(v / u) : 0.0, high = q > 0.0 ? p * q * std::log(p / q) : 0.0;
  return (width - low - high) / (width * width);
}

}  // namespace

double anderson_darling_between(std::span<const SeenBetween> ascending) {
  double n = 0.0;
  for (const SeenBetween& bin : ascending) n += static_cast<double>(bin.count);
  expect(n > 0.0, "a statistic of something");
  double sum = 0.0, hiding = 0.0, before = 0.0, below = 0.0, above = 1.0;
  for (const SeenBetween& bin : ascending) {
    const double after = before + static_cast<double>(bin.count);
    sum += squared_distance(below, above, bin.below_lower, bin.above_lower, before / n, before / n);
    sum += squared_distance(bin.below_lower, bin.above_lower, bin.below_upper, bin.above_upper, before / n, after / n);
    hiding += static_cast<double>(bin.count) / n * hidden(bin);
    before = after, below = bin.below_upper, above = bin.above_upper;
  }
  sum += squared_distance(below, above, 1.0, 0.0, 1.0, 1.0);
  return n * sum + hiding;
}

double normality_p_value(double a_squared, std::uint64_t n) {
  expect(n >= 8, "the approximation begins at eight values");
  const double m = static_cast<double>(n);
  const double a = a_squared * (1.0 + 0.75 / m + 2.25 / (m * m));
  double p = 0.0;
  if (a < 0.2)
    p = 1.0 - std::exp(-13.436 + 101.14 * a - 223.73 * a * a);
  else if (a < 0.34)
    p = 1.0 - std::exp(-8.318 + 42.796 * a - 59.938 * a * a);
  else if (a < 0.6)
    p = std::exp(0.9177 - 4.279 * a - 1.38 * a * a);
  else
    p = std::exp(1.2937 - 5.709 * std::min(a, 10.0) + 0.0186 * std::min(a, 10.0) * std::min(a, 10.0));
  return std::clamp(p, 0.0, 1.0);
}

}  // namespace mintspread::statistics
