#include "engine/signature/disc_banded.hpp"

#include <Eigen/Core>
#include <utility>

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;

/// std::complex multiplies by a library call that looks for infinities; rows of numbers need not.
Complex product(Complex a, Complex b) {
  return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

/// Columns worked on side by side: what their last rows need stays in the nearest cache.
constexpr int panel = 16;
using Lanes = Eigen::Array<double, panel, 1>;

struct Row {
  Lanes real, imaginary;

  /// *this -= factor * other.
  void subtract(Complex factor, const Row& other) {
    real -= factor.real() * other.real - factor.imag() * other.imaginary;
    imaginary -= factor.real() * other.imaginary + factor.imag() * other.real;
  }
};

}  // namespace

BandedFactor::BandedFactor(BandedComplex matrix) : factor_(std::move(matrix)), reciprocal_(factor_.size()) {
  for (std::size_t i = 0; i < factor_.size(); ++i) {
    const std::size_t first = factor_.first(i);
    Complex pivot = factor_.lower(i, i);
    for (std::size_t j = first; j < i; ++j) {
      Complex sum = factor_.lower(i, j);  // L_ij D_j
      for (std::size_t k = std::max(first, factor_.first(j)); k < j; ++k)
        sum -= product(factor_.lower(i, k), factor_.lower(j, k));
      factor_.lower(i, j) = sum;
    }
    for (std::size_t j = first; j < i; ++j) {
      const Complex scaled = factor_.lower(i, j);
      const Complex entry = product(scaled, reciprocal_[j]);
      pivot -= product(scaled, entry);
      factor_.lower(i, j) = entry;
    }
    factor_.lower(i, i) = 1.0;
    reciprocal_[i] = 1.0 / pivot;
  }
}

void BandedFactor::solve(AlignedComplex& values) const {
  const std::size_t size = factor_.size();
  for (std::size_t i = 0; i < size; ++i)
    for (std::size_t j = factor_.first(i); j < i; ++j) values[i] -= product(factor_.lower(i, j), values[j]);
  for (std::size_t i = 0; i < size; ++i) values[i] = product(values[i], reciprocal_[i]);
  for (std::size_t i = size; i-- > 0;)
    for (std::size_t j = factor_.first(i); j < i; ++j) values[j] -= product(factor_.lower(i, j), values[i]);
}

void BandedFactor::add_inverse(double weight, AlignedReals& real, AlignedReals& imaginary) const {
  const std::size_t size = factor_.size(), width = factor_.width();
  std::vector<Row> rows(size);
  // L Y = 1, whose rows are lower triangular, then L^T X = D^-1 Y from the last row up. X is symmetric: of each row
  // only the columns up to the diagonal are needed, and the rows below have them.
  for (std::size_t column = 0; column < size; column += panel) {
    const std::size_t columns = std::min<std::size_t>(panel, size - column);
    for (std::size_t i = column; i < size; ++i) {
      Row row{Lanes::Zero(), Lanes::Zero()};
      if (i < column + columns) row.real[static_cast<Eigen::Index>(i - column)] = 1.0;
      for (std::size_t j = std::max(column, factor_.first(i)); j < i; ++j) row.subtract(factor_.lower(i, j), rows[j]);
      rows[i] = row;
    }
    for (std::size_t i = size; i-- > column;) {
      const double a = reciprocal_[i].real(), b = reciprocal_[i].imag();
      Row row{a * rows[i].real - b * rows[i].imaginary, a * rows[i].imaginary + b * rows[i].real};
      for (std::size_t k = i + 1; k < std::min(size, i + width + 1); ++k) row.subtract(factor_.lower(k, i), rows[k]);
      rows[i] = row;
      const std::size_t kept = std::min(columns, i - column + 1);
      double* const to_real = real.data() + i * size + column;
      double* const to_imaginary = imaginary.data() + i * size + column;
      for (std::size_t j = 0; j < kept; ++j) {
        to_real[j] += weight * row.real[static_cast<Eigen::Index>(j)];
        to_imaginary[j] += weight * row.imaginary[static_cast<Eigen::Index>(j)];
      }
    }
  }
}

}  // namespace mintspread::signature
