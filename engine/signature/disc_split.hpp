#pragma once

#include <complex>
#include <cstddef>
#include <vector>

#include "engine/base/aligned.hpp"

namespace mintspread::signature {

/// A complex square matrix, column by column, its real and imaginary parts apart: products of real matrices run at
/// twice the rate of complex ones.
struct SplitMatrix {
  std::size_t size = 0;
  AlignedReals real, imaginary;

  SplitMatrix() = default;
  explicit SplitMatrix(std::size_t n) : size(n), real(n * n, 0.0), imaginary(n * n, 0.0) {}

  std::complex<double> at(std::size_t row, std::size_t column) const {
    return {real[column * size + row], imaginary[column * size + row]};
  }
  void set(std::size_t row, std::size_t column, std::complex<double> value) {
    real[column * size + row] = value.real();
    imaginary[column * size + row] = value.imag();
  }
};

/// The first unknowns of a complex symmetric system taken out of it: A = [D, C^T; C, B] = L diag(D', S) L^T with S = B
/// - C D^-1 C^T, in place, without pivoting (see BandedFactor). Only lower halves are read and written.
class PartialFactor {
 public:
  PartialFactor() = default;
  /// Takes out the first `count` unknowns of `matrix`.
  PartialFactor(SplitMatrix matrix, std::size_t count);

  /// S(row, column), row >= column.
  std::complex<double> rest(std::size_t row, std::size_t column) const {
    return matrix_.at(count_ + row, count_ + column);
  }
  /// values <- L^-1 values, and what that leaves for the unknowns that stay is added to `rest`.
  void forward(AlignedComplex& values, AlignedComplex& rest) const;
  /// values, as `forward` left them, <- the unknowns taken out, when those that stay are `rest`.
  void backward(AlignedComplex& values, const AlignedComplex& rest) const;

 private:
  SplitMatrix matrix_;
  std::size_t count_ = 0;
};

}  // namespace mintspread::signature
