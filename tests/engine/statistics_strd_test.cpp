#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/statistics/moments.hpp"

// NIST Statistical Reference Datasets, univariate summary statistics: data and certified values of Michelso, Mavro and
// NumAcc4.

using mintspread::statistics::Moments;

namespace {

// Speed of light in air, Mm/s (Michelson 1882; Dorsey 1944).
constexpr std::array michelson{
    299.85, 299.74, 299.90, 300.07, 299.93, 299.85, 299.95, 299.98, 299.98, 299.88, 300.00, 299.98, 299.93,
    299.65, 299.76, 299.81, 300.00, 300.00, 299.96, 299.96, 299.96, 299.94, 299.96, 299.94, 299.88, 299.80,
    299.85, 299.88, 299.90, 299.84, 299.83, 299.79, 299.81, 299.88, 299.88, 299.83, 299.80, 299.79, 299.76,
    299.80, 299.88, 299.88, 299.88, 299.86, 299.72, 299.72, 299.62, 299.86, 299.97, 299.95, 299.88, 299.91,
    299.85, 299.87, 299.84, 299.84, 299.85, 299.84, 299.84, 299.84, 299.89, 299.81, 299.81, 299.82, 299.80,
    299.77, 299.76, 299.74, 299.75, 299.76, 299.91, 299.92, 299.89, 299.86, 299.88, 299.72, 299.84, 299.85,
    299.85, 299.78, 299.89, 299.84, 299.78, 299.81, 299.76, 299.81, 299.79, 299.81, 299.82, 299.85, 299.87,
    299.87, 299.81, 299.74, 299.81, 299.94, 299.95, 299.80, 299.81, 299.87};

// Filter transmittance (Mavrodineanu).
constexpr std::array mavro{2.00180, 2.00170, 2.00180, 2.00190, 2.00180, 2.00170, 2.00150, 2.00140, 2.00150, 2.00150,
                           2.00170, 2.00180, 2.00180, 2.00190, 2.00190, 2.00210, 2.00200, 2.00160, 2.00140, 2.00130,
                           2.00130, 2.00150, 2.00150, 2.00160, 2.00150, 2.00140, 2.00130, 2.00140, 2.00150, 2.00140,
                           2.00150, 2.00160, 2.00150, 2.00160, 2.00190, 2.00200, 2.00200, 2.00210, 2.00220, 2.00230,
                           2.00240, 2.00250, 2.00270, 2.00260, 2.00260, 2.00260, 2.00270, 2.00260, 2.00250, 2.00240};

// In one span, and merged from spans of seven.
std::array<Moments, 2> both_ways(std::span<const double> values) {
  std::array<Moments, 2> moments;
  moments[0].add(values);
  for (; !values.empty(); values = values.subspan(std::min<std::size_t>(7, values.size())))
    moments[1].add(values.first(std::min<std::size_t>(7, values.size())));
  return moments;
}

}  // namespace

TEST_CASE("certified means and standard deviations of measured data are met") {
  for (const Moments& moments : both_ways(michelson)) {
    CHECK(moments.count() == 100);
    CHECK(moments.mean() == Approx(299.852400000000).epsilon(1e-15));
    CHECK(moments.sd() == Approx(0.0790105478190518).epsilon(1e-12));
  }
  for (const Moments& moments : both_ways(mavro)) {
    CHECK(moments.count() == 50);
    CHECK(moments.mean() == Approx(2.00185600000000).epsilon(1e-15));
    // The data's own rounding to doubles, 2e-16 of 2, is 1e-12 of the deviation.
    CHECK(moments.sd() == Approx(0.000429123454003053).epsilon(2e-12));
  }
}

TEST_CASE("certified values beside a mean of ten million are met as far as doubles hold the data") {
  std::vector<double> values{10000000.2};
  for (int i = 0; i < 500; ++i) {
    values.push_back(10000000.1);
    values.push_back(10000000.3);
  }
  for (const Moments& moments : both_ways(values)) {
    CHECK(moments.mean() == Approx(10000000.2).epsilon(1e-15));
    // 10000000.1 lies 3.7e-10 from the nearest double: 4e-9 of the deviation.
    CHECK(moments.sd() == Approx(0.1).epsilon(1e-8));
  }
}

TEST_CASE("third and fourth moments agree with closed forms of an evenly spaced set") {
  // 1..n, shifted: variance n (n + 1) / 12, skewness 0, excess kurtosis -6 (n^2 + 1) / (5 (n^2 - 1)).
  const double n = 1001;
  std::vector<double> values;
  for (double k = 1; k <= n; ++k) values.push_back(5000.0 + k);
  for (const Moments& moments : both_ways(values)) {
    CHECK(moments.variance() == Approx(n * (n + 1) / 12).epsilon(1e-13));
    CHECK(moments.skewness() == Approx(0.0).margin(1e-13));
    CHECK(moments.excess_kurtosis() == Approx(-6.0 * (n * n + 1) / (5.0 * (n * n - 1))).epsilon(1e-12));
  }
}
