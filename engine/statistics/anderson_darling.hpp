#pragma once

#include <cstdint>
#include <span>

namespace mintspread::statistics {

/// A value of a sample as a fitted law sees it: probability below and above it, and how often it occurs.
struct Seen {
  double below, above;
  std::uint64_t count;
};

/// Anderson and Darling's A^2 = -n - (1/n) SUM (2i - 1) (ln F(x_i) + ln(1 - F(x_(n+1-i)))) of values in ascending order
/// (T. W. Anderson & D. A. Darling, J. Am. Stat. Assoc. 49, 765 (1954)). Infinite where a value is impossible.
double anderson_darling(std::span<const Seen> ascending);

/// Probability of a larger A^2 from n independent normal values whose mean and standard deviation (divisor n - 1) were
/// estimated from them: approximation of R. B. D'Agostino & M. A. Stephens, Goodness-of-Fit Techniques, 1986,
/// table 4.9, from memory, for n >= 8; also of a lognormal by its logarithms. Between about 1e-6 and 1.
double normality_p_value(double a_squared, std::uint64_t n);

}  // namespace mintspread::statistics
