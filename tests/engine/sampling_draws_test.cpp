#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/sampling/draws.hpp"
#include "tests/support/each_processor.hpp"

using namespace mintspread::sampling;

// Known answers of the generator's authors: file kat_vectors of the Random123 distribution, rows "philox4x32 10"
// (Salmon et al., SC11, 2011).
TEST_CASE("the generator gives the known answers of its authors") {
  using Words = std::array<std::uint32_t, 4>;
  CHECK(philox({0, 0, 0, 0}, {0, 0}) == Words{0x6627e8d5, 0xe169c58d, 0xbc57ac4c, 0x9b00dbd8});
  const std::uint32_t ones = 0xffffffff;
  CHECK(philox({ones, ones, ones, ones}, {ones, ones}) == Words{0x408f276d, 0x41c83b0e, 0xa20bc7c6, 0x6d5451fd});
  // Digits of pi; from memory.
  CHECK(philox({0x243f6a88, 0x85a308d3, 0x13198a2e, 0x03707344}, {0xa4093822, 0x299f31d0}) ==
        Words{0xd16cfe09, 0x94fdcceb, 0x5001e420, 0x24126ea1});
}

TEST_CASE("a uniform comes from the known answer for index, stream, address and seed zero") {
  // 0xe169c58d6627e8d5 >> 12, times 2^-52, plus 2^-53.
  CHECK(uniform(0, 0, 0, 0) == (double(0xe169c58d6627e8d5u >> 12) + 0.5) * 0x1p-52);
  CHECK(uniform(0, 0, 0, 1) == (double(0x9b00dbd8bc57ac4cu >> 12) + 0.5) * 0x1p-52);
}

TEST_CASE("a block of uniforms equals single draws wherever it starts, on every processor family") {
  const std::uint64_t address = address_of("bath.copper.thickness", 0);
  for_each_processor([&](const char* processor) {
    CAPTURE(processor);
    // The second start makes the pair number cross 2^32 inside the block.
    for (std::uint64_t start :
         {std::uint64_t{0}, (std::uint64_t{1} << 33) - 20, std::uint64_t{123457}, index_limit - 100}) {
      for (std::size_t count : {0u, 1u, 2u, 15u, 16u, 17u, 64u, 99u}) {
        std::vector<double> block(count);
        uniforms(0x0123456789abcdefu, address, 7, start, block);
        bool equal = true;
        for (std::size_t i = 0; i < count; ++i)
          equal = equal && block[i] == uniform(0x0123456789abcdefu, address, 7, start + i);
        CHECK(equal);
      }
    }
  });
}

TEST_CASE("draws beyond the limits of the address are refused") {
  std::vector<double> out(4);
  CHECK_THROWS_AS(uniforms(1, 1, stream_limit, 0, out), mintspread::ContractBroken);
  CHECK_THROWS_AS(uniforms(1, 1, 0, index_limit - 3, out), mintspread::ContractBroken);
  CHECK_NOTHROW(uniforms(1, 1, 0, index_limit - 4, out));
}

TEST_CASE("addresses differ by path and by component") {
  std::vector<std::uint64_t> seen;
  for (const char* path : {"", "a", "b", "ab", "ba", "blank.thickness", "blank.thicknes"})
    for (std::size_t component : {0u, 1u, 2u, 256u}) seen.push_back(address_of(path, component));
  std::sort(seen.begin(), seen.end());
  CHECK(std::adjacent_find(seen.begin(), seen.end()) == seen.end());
}

namespace {

std::vector<double> many(std::uint64_t seed, std::uint64_t address, std::uint32_t stream,
                         std::size_t count = 1u << 20) {
  std::vector<double> out(count);
  uniforms(seed, address, stream, 0, out);
  return out;
}

// Kolmogorov's distance to the uniform distribution times sqrt n; exceeds 2.70 with probability 2 exp(-2 2.7^2)
// = 9.3e-7.
double kolmogorov(std::vector<double> u) {
  std::sort(u.begin(), u.end());
  double worst = 0.0;
  const double n = double(u.size());
  for (std::size_t i = 0; i < u.size(); ++i) worst = std::max({worst, double(i + 1) / n - u[i], u[i] - double(i) / n});
  return worst * std::sqrt(n);
}

// Correlation of two sets times sqrt n: normal with sd 1 for independent sets; beyond 4.9 with probability 1e-6.
double correlation(const std::vector<double>& a, const std::vector<double>& b) {
  double sum = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) sum += (a[i] - 0.5) * (b[i] - 0.5);
  return 12.0 * sum / std::sqrt(double(a.size()));
}

}  // namespace

TEST_CASE("draws are uniform, and those of other seeds, addresses, streams and neighbours are independent") {
  const std::uint64_t first = address_of("bath.copper.thickness", 0), second = address_of("bath.copper.thickness", 1);
  const auto base = many(1, first, 0);
  CHECK(kolmogorov(base) < 2.70);
  CHECK(std::abs(correlation(base, many(2, first, 0))) < 4.9);
  CHECK(std::abs(correlation(base, many(1, second, 0))) < 4.9);
  CHECK(std::abs(correlation(base, many(1, first, 1))) < 4.9);
  std::vector<double> shifted(base.begin() + 1, base.end());
  shifted.push_back(0.5);
  CHECK(std::abs(correlation(base, shifted)) < 4.9);
  // The checks can fail: a warp of 1 % of the unit interval, and a set correlated by 1 %.
  std::vector<double> warped(base), mixed(many(2, first, 0));
  for (double& u : warped) u += 0.01 * u * (1.0 - u);
  for (std::size_t i = 0; i < mixed.size(); ++i) mixed[i] += 0.01 * (base[i] - 0.5);
  CHECK(kolmogorov(warped) > 2.70);
  CHECK(std::abs(correlation(base, mixed)) > 4.9);
}
