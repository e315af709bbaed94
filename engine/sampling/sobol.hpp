#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <vector>

namespace mintspread::sampling {

/// Scrambled Sobol' points with random access: coordinate by coordinate, replicate by replicate, from any index on.
///
/// Direction numbers: S. Joe & F. Y. Kuo, SIAM J. Sci. Comput. 30, 2635 (2008), as carried by Boost.Random. The zero
/// point, which Boost leaves out, is put back, so that the first 2^m points are a net. Scrambling: a fair nested (Owen)
/// scramble of 32 binary digits by a hash of the reversed bits; construction of S. Laine & T. Karras, Comput. Graph.
/// Forum 30, 1179 (2011), with N. Vegdahl's published constants, because the original ones leave the variance of a
/// one-dimensional mean at a quarter of what a fair scramble has. Digits 33 to 52 are random, so that tails reach as
/// far as those of plain draws.
class SobolPoints {
 public:
  static constexpr std::size_t largest_dimension = 3667;

  /// At most largest_dimension (contract).
  explicit SobolPoints(std::size_t dimensions);

  std::size_t dimensions() const { return directions_.size() / digits; }

  /// out[i] = coordinate of point first + i, inside (0, 1); first + out.size() <= 2^32. `key` tells scrambles apart:
  /// equal keys, equal scrambles. Coordinates need different keys to be scrambled independently.
  void uniforms(std::uint64_t key, std::size_t dimension, std::uint64_t first, std::span<double> out) const;

  /// Unscrambled coordinate of a point, as a fraction of 2^32.
  std::uint32_t plain(std::size_t dimension, std::uint64_t index) const;

 private:
  static constexpr std::size_t digits = 32;
  std::vector<std::uint32_t> directions_;  ///< [dimension][digit]
};

/// Key of the scramble of one quantity (draws.hpp: seed, address, stream) in one replicate.
std::uint64_t scramble_key(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t replicate);

/// The nested scramble itself, for known answers: `seed` well mixed and not 0.
std::uint32_t nested_scramble(std::uint32_t value, std::uint32_t seed);

}  // namespace mintspread::sampling
