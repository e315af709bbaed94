#pragma once

#include <cstddef>
#include <cstring>
#include <span>

namespace mintspread {

/// Four neighbouring lanes in one register of the minimum processor (AVX2), by the vector extension that g++ and clang
/// share: arithmetic, comparison and `mask ? a : b` work lane by lane and round as scalars do. For kernels that are
/// bound by memory; those that gain from wider registers are dispatched through Highway.
using Quad = double __attribute__((vector_size(32)));
using QuadMask = long long __attribute__((vector_size(32)));
inline constexpr std::size_t quad_lanes = 4;

inline Quad load_quad(std::span<const double> column, std::size_t lane) {
  Quad quad;
  std::memcpy(&quad, column.data() + lane, sizeof quad);
  return quad;
}

inline void store_quad(Quad quad, std::span<double> column, std::size_t lane) {
  std::memcpy(column.data() + lane, &quad, sizeof quad);
}

inline Quad quad_of(double value) { return Quad{value, value, value, value}; }

inline bool all(QuadMask mask) { return (mask[0] & mask[1] & mask[2] & mask[3]) != 0; }

}  // namespace mintspread
