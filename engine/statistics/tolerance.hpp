#pragma once

#include <cstdint>

namespace mintspread::statistics {

// How much of a population a sample vouches for (ISO 16269-6). `coverage` is a part of the population, `confidence` the
// probability that the sample is one of which the statement is true; both lie strictly between 0 and 1.

/// Factor k so that mean + k sd of n >= 2 independent normal values lies above `coverage` of the population: quantile
/// of the noncentral t distribution over sqrt n (G. J. Hahn & W. Q. Meeker, Statistical Intervals, 1991, 4.6.3, from
/// memory).
double one_sided_factor(std::uint64_t n, double coverage, double confidence);

/// Factor k so that mean +- k sd encloses `coverage`: exact, by integration over the mean of the sample (Hahn & Meeker,
/// 4.6.1, from memory). To 1e-9.
double two_sided_factor(std::uint64_t n, double coverage, double confidence);

/// Part of any continuous population that lies below the largest of n values (S. S. Wilks, Ann. Math. Stat. 12, 91
/// (1941), from memory).
double coverage_of_largest(std::uint64_t n, double confidence);

/// Part of any continuous population between the smallest and the largest of n >= 2 values.
double coverage_of_range(std::uint64_t n, double confidence);

/// Fewest values of which the one of rank `s` from the top (1: the largest) lies above `coverage` of any continuous
/// population.
std::uint64_t values_for_coverage(double coverage, double confidence, std::uint64_t s);

/// The same for the range from the smallest to the largest.
std::uint64_t values_for_range(double coverage, double confidence);

}  // namespace mintspread::statistics
