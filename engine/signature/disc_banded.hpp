#pragma once

#include <algorithm>
#include <complex>
#include <cstddef>
#include <vector>

#include "engine/base/aligned.hpp"

namespace mintspread::signature {

/// A symmetric matrix whose entries (i, j) vanish for |i - j| > width; the lower half by rows.
template <class Number>
class Banded {
 public:
  Banded() = default;
  Banded(std::size_t size, std::size_t width) : size_(size), width_(width), entries_(size * (width + 1)) {}

  std::size_t size() const { return size_; }
  std::size_t width() const { return width_; }
  std::size_t first(std::size_t i) const { return i > width_ ? i - width_ : 0; }

  /// Row i from column j, j <= i.
  Number& lower(std::size_t i, std::size_t j) { return entries_[i * (width_ + 1) + (i - j)]; }
  const Number& lower(std::size_t i, std::size_t j) const { return entries_[i * (width_ + 1) + (i - j)]; }
  Number at(std::size_t i, std::size_t j) const {
    const auto [low, high] = std::minmax(i, j);
    return high - low > width_ ? Number{} : lower(high, low);
  }

 private:
  std::size_t size_ = 0, width_ = 0;
  std::vector<Number> entries_;
};

using BandedReal = Banded<double>;
using BandedComplex = Banded<std::complex<double>>;

/// L D L^T of a complex symmetric banded matrix (no conjugates), without pivoting: stable when real and imaginary part
/// are positive definite (Higham, Math. Comp. 67, 1591, 1998), as they are for s on the imaginary axis.
class BandedFactor {
 public:
  explicit BandedFactor(BandedComplex matrix);

  void solve(AlignedComplex& values) const;

  /// Adds `weight` times the lower half of the inverse to `real` and `imaginary`, which hold full rows.
  void add_inverse(double weight, AlignedReals& real, AlignedReals& imaginary) const;

 private:
  BandedComplex factor_;       ///< L without its ones
  AlignedComplex reciprocal_;  ///< of D
};

}  // namespace mintspread::signature
