#include "engine/signature/disc_slab.hpp"

#include <Eigen/Dense>
#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>

namespace mintspread::signature {

namespace {

using Complex = std::complex<double>;
using Legendre = boost::math::quadrature::gauss<double, 10>;

struct Points {
  AlignedReals at, weight;
};

/// Gauss points on [0, 1] in panels that halve towards 1, where solutions with a large p live.
Points graded_points(double largest) {
  Points points;
  double begin = 0.0;
  const int panels = 2 + static_cast<int>(std::ceil(std::log2(std::max(1.0, largest))));
  for (int i = 1; i <= panels; ++i) {
    const double end = i == panels ? 1.0 : 1.0 - std::ldexp(1.0, -i);
    for (std::size_t j = 0; j < Legendre::abscissa().size(); ++j)
      for (const double sign : {-1.0, 1.0}) {
        points.at.push_back(0.5 * (begin + end) + 0.5 * sign * (end - begin) * Legendre::abscissa()[j]);
        points.weight.push_back(0.5 * (end - begin) * Legendre::weights()[j]);
      }
    begin = end;
  }
  return points;
}

struct ValueAndSlope {
  Complex value, slope;
};

/// cosh(a t) / cosh(a) or sinh(a t) / sinh(a), by decaying exponentials only.
ValueAndSlope solution(Complex a, double t, Parity parity) {
  const Complex near = std::exp(-a * (1.0 - t)), far = std::exp(-a * (1.0 + t)), both = std::exp(-2.0 * a);
  if (parity == Parity::even) return {(near + far) / (1.0 + both), a * (near - far) / (1.0 + both)};
  return {(near - far) / (1.0 - both), a * (near + far) / (1.0 - both)};
}

}  // namespace

SlabResponse slab_response(double thickness, Parity parity, std::span<const Complex> metals, double largest,
                           double spacing) {
  const double h = 0.5 * thickness;
  AlignedComplex chosen;
  double last = 1.2;
  do {
    chosen.emplace_back(last);
    last *= std::exp(spacing);
  } while (last < largest * h || chosen.size() < 2);
  for (const Complex& metal : metals)
    if (std::abs(metal) * h > 0.3) chosen.push_back(metal * h);
  double steepest = 0.0;
  for (const Complex& p : chosen) steepest = std::max(steepest, std::abs(p));

  // Functions that vanish at the face: solutions less the one for p = 0, which is 1 or t.
  const Points points = graded_points(steepest);
  const auto rows = static_cast<Eigen::Index>(points.at.size());
  Eigen::MatrixXd values(rows, 2 * static_cast<Eigen::Index>(chosen.size()));
  Eigen::MatrixXd slopes(values.rows(), values.cols());
  Eigen::VectorXd face_value(rows), face_slope(rows);
  for (Eigen::Index i = 0; i < rows; ++i) {
    const double t = points.at[static_cast<std::size_t>(i)];
    const double root = std::sqrt(points.weight[static_cast<std::size_t>(i)]);
    face_value[i] = root * (parity == Parity::even ? 1.0 : t);
    face_slope[i] = root * (parity == Parity::even ? 0.0 : 1.0);
  }
  Eigen::Index columns = 0;
  for (const Complex& p : chosen) {
    const bool two = std::abs(p.imag()) > 1e-6 * std::abs(p);
    for (Eigen::Index i = 0; i < rows; ++i) {
      const double root = std::sqrt(points.weight[static_cast<std::size_t>(i)]);
      const auto [value, slope] = solution(p, points.at[static_cast<std::size_t>(i)], parity);
      values(i, columns) = root * value.real() - face_value[i];
      slopes(i, columns) = root * slope.real() - face_slope[i];
      if (two) {
        values(i, columns + 1) = root * value.imag();
        slopes(i, columns + 1) = root * slope.imag();
      }
    }
    columns += two ? 2 : 1;
  }
  for (Eigen::Index j = 0; j < columns; ++j) {
    const double norm = values.col(j).norm();
    values.col(j) /= norm;
    slopes.col(j) /= norm;
  }

  // Orthonormal combinations; nearly dependent ones are left out.
  const Eigen::MatrixXd f = values.leftCols(columns), df = slopes.leftCols(columns);
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> gram(f.transpose() * f);
  const double least = 1e-12 * gram.eigenvalues()[columns - 1];
  Eigen::Index first = 0;
  while (gram.eigenvalues()[first] < least) ++first;
  const Eigen::Index kept = columns - first;
  const Eigen::MatrixXd base =
      gram.eigenvectors().rightCols(kept) * gram.eigenvalues().tail(kept).cwiseSqrt().cwiseInverse().asDiagonal();
  const Eigen::MatrixXd q = f * base, dq = df * base;
  const Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> modes(dq.transpose() * dq);
  const Eigen::VectorXd m = modes.eigenvectors().transpose() * (q.transpose() * face_value);
  const Eigen::VectorXd k = modes.eigenvectors().transpose() * (dq.transpose() * face_slope);

  SlabResponse response;
  response.mass = face_slope.squaredNorm() / h;
  response.stiffness = h * face_value.squaredNorm();
  for (Eigen::Index j = 0; j < kept; ++j) {
    const double pole = modes.eigenvalues()[j];
    const double g = k[j] - pole * m[j];
    response.mass -= (m[j] * m[j] * pole + 2.0 * m[j] * g) / h;
    response.stiffness -= h * m[j] * m[j];
    response.poles.push_back({pole / (h * h), g * g / (h * h * h)});
  }
  return response;
}

}  // namespace mintspread::signature
