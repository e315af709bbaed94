#pragma once

#include <complex>
#include <cstddef>
#include <new>
#include <vector>

namespace mintspread {

/// Memory that begins at a multiple of every vector width. Sums over vectors are split where the alignment begins, so
/// that memory from anywhere gives other bits of the same sum.
template <class T>
struct AlignedAllocator {
  using value_type = T;
  static constexpr std::align_val_t alignment{64};

  AlignedAllocator() = default;
  template <class U>
  AlignedAllocator(const AlignedAllocator<U>&) {}

  T* allocate(std::size_t count) { return static_cast<T*>(::operator new(count * sizeof(T), alignment)); }
  void deallocate(T* memory, std::size_t) { ::operator delete(memory, alignment); }

  bool operator==(const AlignedAllocator&) const { return true; }
};

using AlignedReals = std::vector<double, AlignedAllocator<double>>;
using AlignedComplex = std::vector<std::complex<double>, AlignedAllocator<std::complex<double>>>;

}  // namespace mintspread
