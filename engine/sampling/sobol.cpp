#include "engine/sampling/sobol.hpp"

#include <boost/random/sobol.hpp>

#include "engine/base/contract.hpp"
#include "engine/sampling/kernels.hpp"

namespace mintspread::sampling {

namespace {

constexpr std::uint32_t reverse_bits(std::uint32_t v) {
  v = ((v >> 1) & 0x55555555U) | ((v & 0x55555555U) << 1);
  v = ((v >> 2) & 0x33333333U) | ((v & 0x33333333U) << 2);
  v = ((v >> 4) & 0x0F0F0F0FU) | ((v & 0x0F0F0F0FU) << 4);
  v = ((v >> 8) & 0x00FF00FFU) | ((v & 0x00FF00FFU) << 8);
  return (v >> 16) | (v << 16);
}

/// SplitMix64's finaliser (G. Steele, D. Lea, C. Flood, OOPSLA 2014).
constexpr std::uint64_t mix(std::uint64_t v) {
  v += 0x9e3779b97f4a7c15U;
  v = (v ^ (v >> 30)) * 0xbf58476d1ce4e5b9U;
  v = (v ^ (v >> 27)) * 0x94d049bb133111ebU;
  return v ^ (v >> 31);
}

/// Every coordinate of point `index` >= 1: Boost's engine, seeded with i, goes on with point i + 1.
void coordinates(boost::random::sobol& engine, std::uint64_t index, std::span<std::uint64_t> out) {
  engine.seed(index - 1);
  for (auto& coordinate : out) coordinate = engine();
}

}  // namespace

std::uint32_t nested_scramble(std::uint32_t value, std::uint32_t seed) {
  std::uint32_t v = reverse_bits(value);
  v ^= v * 0x3d20adeaU;
  v += seed;
  v *= (seed >> 16) | 1U;
  v ^= v * 0x05526c56U;
  v ^= v * 0x53a22864U;
  return reverse_bits(v);
}

std::uint64_t scramble_key(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t replicate) {
  return mix(mix(mix(mix(seed) ^ address) ^ stream) ^ replicate);
}

SobolPoints::SobolPoints(std::size_t dimensions) : directions_(dimensions * digits) {
  expect(dimensions >= 1 && dimensions <= largest_dimension, "Sobol' points have 1 to 3667 coordinates");
  boost::random::sobol engine(dimensions);
  std::vector<std::uint64_t> here(dimensions), before(dimensions);
  // In Gray-code order point 2^j differs from the one before by the j-th direction number alone.
  for (std::size_t digit = 0; digit < digits; ++digit) {
    const std::uint64_t index = std::uint64_t{1} << digit;
    coordinates(engine, index, here);
    if (index > 1) coordinates(engine, index - 1, before);
    for (std::size_t d = 0; d < dimensions; ++d) {
      directions_[d * digits + digit] = static_cast<std::uint32_t>((here[d] ^ before[d]) >> 32);
    }
  }
}

std::uint32_t SobolPoints::plain(std::size_t dimension, std::uint64_t index) const {
  std::uint32_t value = 0;
  std::uint64_t gray = index ^ (index >> 1);
  for (std::size_t digit = 0; gray != 0; ++digit, gray >>= 1) {
    if ((gray & 1U) != 0) value ^= directions_[dimension * digits + digit];
  }
  return value;
}

void SobolPoints::uniforms(std::uint64_t key, std::size_t dimension, std::uint64_t first, std::span<double> out) const {
  expect(dimension < dimensions() && first + out.size() <= (std::uint64_t{1} << 32), "a Sobol' point that exists");
  const std::uint64_t mixed = mix(key);
  // All 32 bits of the seed must be free: the lowest decides whether the halves of the interval change places.
  const auto seed = static_cast<std::uint32_t>(mixed) == 0 ? 0x9e3779b9U : static_cast<std::uint32_t>(mixed);
  const auto tail = static_cast<std::uint32_t>(mixed >> 32);
  const auto directions = std::span(directions_).subspan(dimension * digits).first<digits>();
  kernels::scrambled_points(directions, seed, tail, first, out);
}

}  // namespace mintspread::sampling
