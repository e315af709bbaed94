#include "engine/signature/disc_split.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <utility>

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;
using Eigen::Index;
using Block = Eigen::Block<Eigen::Map<Eigen::MatrixXd>>;

constexpr Index block = 48;

}  // namespace

PartialFactor::PartialFactor(SplitMatrix matrix, std::size_t count) : matrix_(std::move(matrix)), count_(count) {
  const auto size = static_cast<Index>(matrix_.size), end = static_cast<Index>(count);
  Eigen::Map<Eigen::MatrixXd> real(matrix_.real.data(), size, size), imaginary(matrix_.imaginary.data(), size, size);
  Eigen::MatrixXcd corner, inverse;
  Eigen::MatrixXd panel_real, panel_imaginary, scaled_real, scaled_imaginary;
  for (Index at = 0; at < end; at += block) {
    const Index width = std::min(block, end - at);
    const Index rest = size - at - width;
    corner.resize(width, width);
    corner.real() = real.block(at, at, width, width);
    corner.imag() = imaginary.block(at, at, width, width);
    for (Index j = 0; j < width; ++j) {
      const Complex reciprocal = 1.0 / corner(j, j);
      for (Index c = j + 1; c < width; ++c)
        corner.col(c).tail(width - c) -= (corner(c, j) * reciprocal) * corner.col(j).tail(width - c);
      corner.col(j).tail(width - j - 1) *= reciprocal;
    }
    real.block(at, at, width, width) = corner.real();
    imaginary.block(at, at, width, width) = corner.imag();
    if (rest == 0) continue;

    // Panel W = C L^-T, kept as W D'^-1; then S -= W D'^-1 W^T on the lower half, by strips.
    inverse = Eigen::MatrixXcd::Identity(width, width);
    corner.triangularView<Eigen::UnitLower>().solveInPlace(inverse);
    const Eigen::MatrixXd inverse_real = inverse.real().transpose(), inverse_imaginary = inverse.imag().transpose();
    Block c_real = real.block(at + width, at, rest, width), c_imaginary = imaginary.block(at + width, at, rest, width);
    panel_real.noalias() = c_real * inverse_real;
    panel_real.noalias() -= c_imaginary * inverse_imaginary;
    panel_imaginary.noalias() = c_real * inverse_imaginary;
    panel_imaginary.noalias() += c_imaginary * inverse_real;
    for (Index j = 0; j < width; ++j) {
      const Complex reciprocal = 1.0 / corner(j, j);
      c_real.col(j) = reciprocal.real() * panel_real.col(j) - reciprocal.imag() * panel_imaginary.col(j);
      c_imaginary.col(j) = reciprocal.real() * panel_imaginary.col(j) + reciprocal.imag() * panel_real.col(j);
    }
    for (Index column = 0; column < rest; column += block) {
      const Index strip = std::min(block, rest - column), rows = rest - column;
      Block s_real = real.block(at + width + column, at + width + column, rows, strip);
      Block s_imaginary = imaginary.block(at + width + column, at + width + column, rows, strip);
      const auto w_real = panel_real.middleRows(column, strip).transpose();
      const auto w_imaginary = panel_imaginary.middleRows(column, strip).transpose();
      s_real.noalias() -= c_real.bottomRows(rows) * w_real;
      s_real.noalias() += c_imaginary.bottomRows(rows) * w_imaginary;
      s_imaginary.noalias() -= c_real.bottomRows(rows) * w_imaginary;
      s_imaginary.noalias() -= c_imaginary.bottomRows(rows) * w_real;
    }
  }
}

void PartialFactor::forward(AlignedComplex& values, AlignedComplex& rest) const {
  const std::size_t size = matrix_.size;
  AlignedReals real(size, 0.0), imaginary(size, 0.0);
  for (std::size_t i = 0; i < count_; ++i) {
    real[i] = values[i].real();
    imaginary[i] = values[i].imag();
  }
  for (std::size_t j = 0; j < count_; ++j) {
    const double a = real[j], b = imaginary[j];
    const double *const x = matrix_.real.data() + j * size, *const y = matrix_.imaginary.data() + j * size;
    for (std::size_t i = j + 1; i < size; ++i) {
      real[i] -= a * x[i] - b * y[i];
      imaginary[i] -= a * y[i] + b * x[i];
    }
  }
  for (std::size_t i = 0; i < count_; ++i) values[i] = {real[i], imaginary[i]};
  for (std::size_t i = count_; i < size; ++i) rest[i - count_] += Complex(real[i], imaginary[i]);
}

void PartialFactor::backward(AlignedComplex& values, const AlignedComplex& rest) const {
  const auto size = static_cast<Index>(matrix_.size), count = static_cast<Index>(count_);
  const Eigen::Map<const Eigen::MatrixXd> x(matrix_.real.data(), size, size), y(matrix_.imaginary.data(), size, size);
  Eigen::VectorXd real(size), imaginary(size);
  for (Index i = count; i < size; ++i) {
    real[i] = rest[static_cast<std::size_t>(i - count)].real();
    imaginary[i] = rest[static_cast<std::size_t>(i - count)].imag();
  }
  for (Index j = count; j-- > 0;) {
    const Index under = size - j - 1;
    const auto lx = x.col(j).tail(under), ly = y.col(j).tail(under);
    const auto vx = real.tail(under), vy = imaginary.tail(under);
    auto& value = values[static_cast<std::size_t>(j)];
    value = value / Complex(x(j, j), y(j, j)) - Complex(lx.dot(vx) - ly.dot(vy), lx.dot(vy) + ly.dot(vx));
    real[j] = value.real();
    imaginary[j] = value.imag();
  }
}

}  // namespace mintspread::signature
