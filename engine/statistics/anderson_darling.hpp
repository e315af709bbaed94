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

/// Readings that say only that a value lies between two bounds, as a fitted law sees them: the probability on either
/// side of each bound, and how many there are.
struct SeenBetween {
  double below_lower, above_lower, below_upper, above_upper;
  std::uint64_t count;
};

/// A^2 of rounded or binned values in ascending order, bins apart or touching: n INTEGRAL (F_n - F)^2 / (F (1 - F)) dF
/// with F_n even within each bin, and the expectation of what the bins hide added, (n_i / n) INTEGRAL t (1 - t) / (F (1
/// - F)) dF with t the part of the bin below. Midpoints instead would make ties that grow without bound with n.
double anderson_darling_between(std::span<const SeenBetween> ascending);

/// Probability of a larger A^2 from n independent normal values whose mean and standard deviation (divisor n - 1) were
/// estimated from them: approximation of R. B. D'Agostino & M. A. Stephens, Goodness-of-Fit Techniques, 1986,
/// table 4.9, from memory, for n >= 8; also of a lognormal by its logarithms. Between about 1e-6 and 1.
double normality_p_value(double a_squared, std::uint64_t n);

}  // namespace mintspread::statistics
