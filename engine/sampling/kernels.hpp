#pragma once

#include <cstddef>
#include <cstdint>
#include <span>

// Vector kernels of this room: run-time dispatch between AVX2 and AVX-512 by Highway, one lane one value, the same
// bytes on both. Everything lane-wise with fused multiply-add where written, no reductions across lanes.
namespace mintspread::sampling::kernels {

/// Uniforms of the pairs first_pair, first_pair + 1, ... (two a pair). Fills as many values as whole
/// vectors hold and returns how many those are; the rest of `out` is left alone.
std::size_t uniform_pairs(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t first_pair,
                          std::span<double> out);

/// Coordinates of the Sobol' points first, first + 1, ... of one dimension, scrambled (sobol.hpp).
/// `directions` holds its 32 direction numbers, `tail` seeds the digits after them.
void scrambled_points(std::span<const std::uint32_t, 32> directions, std::uint32_t seed, std::uint32_t tail,
                      std::uint64_t first, std::span<double> out);

/// See normal_score.hpp.
void normal_scores(std::span<const double> u, std::span<double> scores);

}  // namespace mintspread::sampling::kernels
