#pragma once

#include <Eigen/Core>
#include <complex>
#include <cstddef>

#include "engine/signature/disc_radial.hpp"

namespace mintspread::signature {

/// Without the checks for infinities that the library's product has.
inline std::complex<double> product(std::complex<double> a, std::complex<double> b) {
  return {a.real() * b.real() - a.imag() * b.imag(), a.real() * b.imag() + a.imag() * b.real()};
}

/// What multiplies a change of the element matrices in the derivative: SUM mass : dM_e + stiffness : dK_e, elements in
/// order, lower halves by rows as the elements have them.
struct ElementWeights {
  AlignedComplex mass, stiffness;

  explicit ElementWeights(const DiscRadial& radial) {
    std::size_t total = 0;
    for (const auto& element : radial.elements()) total += (element.order + 1) * (element.order + 1);
    mass.assign(total, 0.0);
    stiffness.assign(total, 0.0);
  }

  /// Calls f(position in the lists, unknown of the row, unknown of the column) for all entries.
  template <class Function>
  static void at_entries(const DiscRadial& radial, const Function& f) {
    std::size_t start = 0;
    for (const auto& element : radial.elements()) {
      const std::size_t count = element.order + 1;
      for (std::size_t i = 0; i < count; ++i)
        for (std::size_t j = 0; j <= i; ++j) {
          const std::ptrdiff_t row = element.first_unknown + static_cast<std::ptrdiff_t>(i);
          const std::ptrdiff_t column = element.first_unknown + static_cast<std::ptrdiff_t>(j);
          if (column < 0 || row >= static_cast<std::ptrdiff_t>(radial.size())) continue;
          f(start + i * count + j, static_cast<std::size_t>(row), static_cast<std::size_t>(column));
        }
      start += count * count;
    }
  }

  /// Adds the forms x^T dM y and x^T dK y, each with its weight.
  void add(const DiscRadial& radial, std::complex<double> of_mass, std::complex<double> of_stiffness,
           const AlignedComplex& x, const AlignedComplex& y) {
    at_entries(radial, [&](std::size_t at, std::size_t i, std::size_t j) {
      std::complex<double> entry = product(x[i], y[j]);
      if (i != j) entry += product(x[j], y[i]);
      mass[at] += product(of_mass, entry);
      stiffness[at] += product(of_stiffness, entry);
    });
  }
  void add(const DiscRadial& radial, const Eigen::MatrixXcd& of_mass, const Eigen::MatrixXcd& of_stiffness) {
    at_entries(radial, [&](std::size_t at, std::size_t row, std::size_t column) {
      const auto i = static_cast<Eigen::Index>(row), j = static_cast<Eigen::Index>(column);
      mass[at] += i == j ? of_mass(i, i) : of_mass(i, j) + of_mass(j, i);
      stiffness[at] += i == j ? of_stiffness(i, i) : of_stiffness(i, j) + of_stiffness(j, i);
    });
  }
};

}  // namespace mintspread::signature
