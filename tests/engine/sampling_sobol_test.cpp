#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <set>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/sampling/sobol.hpp"
#include "tests/support/each_processor.hpp"

using mintspread::sampling::SobolPoints;

TEST_CASE("the first points are those published with the direction numbers") {
  // S. Joe & F. Y. Kuo, SIAM J. Sci. Comput. 30, 2635 (2008), direction numbers new-joe-kuo-6.21201: points 1 to 4 in
  // ten dimensions; the zero point stands before them.
  const double published[4][10] = {{.5, .5, .5, .5, .5, .5, .5, .5, .5, .5},
                                   {.75, .25, .25, .25, .75, .75, .25, .75, .75, .75},
                                   {.25, .75, .75, .75, .25, .25, .75, .25, .25, .25},
                                   {.375, .375, .625, .875, .375, .125, .375, .875, .875, .625}};
  const SobolPoints points(10);
  for (std::size_t d = 0; d < 10; ++d) {
    CHECK(points.plain(d, 0) == 0);
    for (std::size_t i = 0; i < 4; ++i) CHECK(points.plain(d, i + 1) * 0x1p-32 == published[i][d]);
  }
  // The sixth point after the zero point, where Boost's engine goes on when seeded with 5.
  CHECK(points.plain(0, 6) * 0x1p-32 == 0.625);
  CHECK(points.plain(1, 6) * 0x1p-32 == 0.125);
  CHECK(points.plain(2, 6) * 0x1p-32 == 0.875);
}

TEST_CASE("every elementary interval of the first two coordinates holds its one point, scrambled or not") {
  // The first two Sobol' coordinates are a (0, m, 2)-net (I. M. Sobol', 1967), and nested scrambling keeps it one (A.
  // B. Owen, 1995).
  constexpr std::size_t m = 8;
  const SobolPoints points(2);
  for (const std::uint64_t key : {1U, 77U}) {
    std::vector<double> x(1U << m), y(1U << m);
    points.uniforms(key, 0, 0, x);
    points.uniforms(key + 1000, 1, 0, y);
    for (std::size_t split = 0; split <= m; ++split) {
      std::set<std::pair<int, int>> cells;
      for (std::size_t i = 0; i < x.size(); ++i) {
        cells.insert({static_cast<int>(std::ldexp(x[i], static_cast<int>(split))),
                      static_cast<int>(std::ldexp(y[i], static_cast<int>(m - split)))});
      }
      CHECK(cells.size() == x.size());
    }
  }
}

TEST_CASE("the mean of a scrambled coordinate has the variance of a fair nested scramble") {
  // n points stratified in n cells, each uniform in its cell: variance 1 / (12 n^3) (A. B. Owen, Ann. Stat. 25, 1541,
  // 1997). 4000 replicates tell it to 2.2 %; five standard errors. Unfair hashes miss it by a factor.
  const SobolPoints points(5);
  constexpr std::size_t n = 16, replicates = 4000;
  for (const std::size_t dimension : {0U, 4U}) {
    double sum = 0.0;
    for (std::uint64_t replicate = 0; replicate < replicates; ++replicate) {
      std::array<double, n> u{};
      points.uniforms(replicate * 10 + dimension, dimension, 0, u);
      double mean = 0.0;
      for (const double value : u) mean += value / n;
      sum += (mean - 0.5) * (mean - 0.5);
    }
    const double exact = 1.0 / (12.0 * n * n * n);
    CHECK(sum / replicates == Approx(exact).epsilon(5.0 * std::sqrt(2.0 / replicates)));
  }
}

TEST_CASE("points are the same wherever a chunk begins") {
  const SobolPoints points(7);
  std::vector<double> all(1000), part(300);
  points.uniforms(3, 6, 0, all);
  points.uniforms(3, 6, 437, part);
  for (std::size_t i = 0; i < part.size(); ++i) CHECK(part[i] == all[437 + i]);
}

TEST_CASE("coordinates with different keys are scrambled independently") {
  // The same coordinate under two keys, 512 replicates. Whether the halves change places alone makes a replicate's
  // correlation +-3/4, so its standard deviation is about 0.76 and that of the mean 0.034; five of them. Keys that
  // share that digit would give 0.75.
  const SobolPoints points(1);
  double sum = 0.0;
  for (std::uint64_t replicate = 0; replicate < 512; ++replicate) {
    std::array<double, 64> a{}, b{};
    points.uniforms(2 * replicate, 0, 0, a);
    points.uniforms(2 * replicate + 1, 0, 0, b);
    for (std::size_t i = 0; i < 64; ++i) sum += 12.0 * (a[i] - 0.5) * (b[i] - 0.5);
  }
  CHECK(std::abs(sum / 32768.0) < 5.0 * 0.76 / std::sqrt(512.0));
}

TEST_CASE("more coordinates than there are direction numbers are refused") {
  CHECK_THROWS_AS(SobolPoints(SobolPoints::largest_dimension + 1), mintspread::ContractBroken);
  CHECK(SobolPoints(SobolPoints::largest_dimension).dimensions() == 3667);
}

TEST_CASE("scrambled coordinates are those of the plain scalar construction, on every processor family") {
  // Referee: nested scramble of 32 digits, then H. Mueller's integer hash for the digits 33 to 52.
  const auto referee = [](const SobolPoints& points, std::uint64_t mixed, std::size_t dimension, std::uint64_t index) {
    const auto seed = static_cast<std::uint32_t>(mixed);
    const std::uint32_t high = mintspread::sampling::nested_scramble(points.plain(dimension, index), seed);
    std::uint32_t rest = high ^ static_cast<std::uint32_t>(mixed >> 32);
    rest = (rest ^ (rest >> 16)) * 0x45d9f3bU;
    rest = (rest ^ (rest >> 16)) * 0x45d9f3bU;
    rest ^= rest >> 16;
    return high * 0x1p-32 + ((rest >> 12) + 0.5) * 0x1p-52;
  };
  // SplitMix64's first output for state 0, known answer: 0xe220a8397b1dcdaf.
  const std::uint64_t mixed = 0xe220a8397b1dcdafU;
  const SobolPoints points(12);
  for_each_processor([&](const char* processor) {
    CAPTURE(processor);
    for (const std::uint64_t first : {0ULL, 5ULL, 1000003ULL, (1ULL << 32) - 70}) {
      std::vector<double> found(70);
      points.uniforms(0, 11, first, found);
      bool equal = true;
      for (std::size_t i = 0; i < found.size(); ++i) equal = equal && found[i] == referee(points, mixed, 11, first + i);
      CHECK(equal);
    }
  });
}
