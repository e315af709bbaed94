#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string_view>

namespace mintspread::sampling {

// Addressed draws. A uniform is a function of (seed, address of the quantity, stream, index of the piece or group unit)
// and of nothing else: not of the block it is computed in, of its neighbours, or of the processor. Editing one quantity
// of a specification therefore leaves the draws of all others alone.
//
// Generator: Philox4x32-10 (J. K. Salmon, M. A. Moraes, R. O. Dror, D. E. Shaw, "Parallel random numbers: as easy as 1,
// 2, 3", SC11, 2011). Key = seed. Counter words, lowest first: index/2 (48 bits), stream (16 bits), address (64 bits);
// the mapping is one to one, so no two draws share a counter. One call gives the two uniforms of an even
// index and the next.

/// Where a quantity's draws live: address of component `component` of the quantity at `path` ("bath.copper.thickness").
/// FNV-1a over the path's bytes (offset basis and prime of the 64-bit variant, G. Fowler, L. C. Noll, P. Vo), the
/// component's eight bytes after it, then the 64-bit finaliser of MurmurHash3 (A. Appleby, public domain). With a
/// thousand quantities two share an address with probability 3e-14.
std::uint64_t address_of(std::string_view path, std::size_t component);

/// Streams below this: independent sets of draws for the same quantity, as replicates and pick-freeze designs need.
inline constexpr std::uint32_t stream_limit = 1u << 16;

/// Indices below this have draws: 2^49 pieces.
inline constexpr std::uint64_t index_limit = std::uint64_t{1} << 49;

/// out[i] = uniform number of the unit with index first_index + i. Odd multiples of 2^-53, hence strictly inside (0,
/// 1), and 1 - u is exact and itself a possible value. Breaks the contract when the stream or an index is beyond its
/// limit.
void uniforms(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t first_index,
              std::span<double> out);

/// The single uniform of one unit: the same number as from `uniforms`, by the scalar generator of the Random123
/// library.
double uniform(std::uint64_t seed, std::uint64_t address, std::uint32_t stream, std::uint64_t index);

/// Philox4x32-10 itself.
std::array<std::uint32_t, 4> philox(std::array<std::uint32_t, 4> counter, std::array<std::uint32_t, 2> key);

}  // namespace mintspread::sampling
