#include "engine/sampling/draws.hpp"

#include <Random123/philox.h>

#include <bit>

#include "engine/base/contract.hpp"
#include "engine/sampling/kernels.hpp"

namespace mintspread::sampling {

namespace {

void check(std::uint32_t stream, std::uint64_t first_index, std::size_t count) {
  expect(stream < stream_limit, "a stream of draws has 16 bits");
  expect(first_index < index_limit && count <= index_limit - first_index, "an index of draws has 49 bits");
}

// Same arithmetic as the vector kernel: an odd multiple of 2^-53, computed exactly.
double to_uniform(std::uint32_t low, std::uint32_t high) {
  const std::uint64_t bits = (std::uint64_t{high} << 32) | low;
  return std::bit_cast<double>((bits >> 12) | 0x3FF0000000000000u) - (1.0 - 0x1p-53);
}

}  // namespace

std::uint64_t address_of(std::string_view path, std::size_t component) {
  std::uint64_t hash = 0xcbf29ce484222325u;
  const auto add = [&](unsigned char byte) { hash = (hash ^ byte) * 0x100000001b3u; };
  for (char c : path) add(static_cast<unsigned char>(c));
  for (int shift = 0; shift < 64; shift += 8) add(static_cast<unsigned char>(std::uint64_t{component} >> shift));
  hash = (hash ^ (hash >> 33)) * 0xff51afd7ed558ccdu;
  hash = (hash ^ (hash >> 33)) * 0xc4ceb9fe1a85ec53u;
  return hash ^ (hash >> 33);
}

std::array<std::uint32_t, 4> philox(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key) {
  const auto words = r123::Philox4x32()({{counter[0], counter[1], counter[2], counter[3]}}, {{key[0], key[1]}});
  return {words[0], words[1], words[2], words[3]};
}

double uniform(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t index) {
  check(stream, index, 1);
  const std::uint64_t pair = index / 2;
  const auto words = philox({static_cast<std::uint32_t>(pair), static_cast<std::uint32_t>(pair >> 32) | stream << 16,
                             static_cast<std::uint32_t>(address), static_cast<std::uint32_t>(address >> 32)},
                            {static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32)});
  return index % 2 == 0 ? to_uniform(words[0], words[1]) : to_uniform(words[2], words[3]);
}

void uniforms(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t first_index,
              std::span<double> out) {
  check(stream, first_index, out.size());
  if (out.empty()) return;
  if (first_index % 2 == 1) {
    out[0] = uniform(seed, address, stream, first_index++);
    out = out.subspan(1);
  }
  const std::size_t done = kernels::uniform_pairs(seed, address, stream, first_index / 2, out);
  for (std::size_t i = done; i < out.size(); ++i) out[i] = uniform(seed, address, stream, first_index + i);
}

}  // namespace mintspread::sampling
