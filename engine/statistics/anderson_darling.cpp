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
