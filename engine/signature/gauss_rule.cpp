#include "engine/signature/gauss_rule.hpp"

#include <Eigen/Eigenvalues>
#include <cmath>
#include <numeric>

#include "engine/base/contract.hpp"

namespace mintspread::signature {

namespace {

double dot(const std::vector<double>& a, const std::vector<double>& b) {
  return std::inner_product(a.begin(), a.end(), b.begin(), 0.0);
}

}  // namespace

GaussFamily::GaussFamily(const Points& weight, Map map) : map_(map) {
  const std::size_t count = weight.nodes.size();
  total_ = std::accumulate(weight.weights.begin(), weight.weights.end(), 0.0);
  positions_.resize(count);
  std::vector<double> first(count);
  const double centre = std::pow(map.scale, map.exponent);
  for (std::size_t i = 0; i < count; ++i) {
    const double power = std::pow(weight.nodes[i], map.exponent);
    positions_[i] = (power - centre) / (power + centre);
    first[i] = std::sqrt(weight.weights[i] / total_);
  }
  basis_.push_back(std::move(first));
}

void GaussFamily::extend(std::size_t order) {
  expect(order < positions_.size(), "a Gauss rule needs more points than nodes");
  while (diagonal_.size() < order) {
    const std::vector<double>& last = basis_.back();
    std::vector<double> image(positions_.size());
    for (std::size_t i = 0; i < image.size(); ++i) image[i] = positions_[i] * last[i];
    diagonal_.push_back(dot(image, last));
    // Twice over all earlier polynomials: without it the far nodes of a quickly decaying weight come out double.
    for (int pass = 0; pass < 2; ++pass)
      for (const std::vector<double>& earlier : basis_) {
        const double overlap = dot(image, earlier);
        for (std::size_t i = 0; i < image.size(); ++i) image[i] -= overlap * earlier[i];
      }
    const double norm = std::sqrt(dot(image, image));
    for (double& value : image) value /= norm;
    next_.push_back(norm);
    basis_.push_back(std::move(image));
  }
}

Points GaussFamily::rule(std::size_t order) {
  extend(order);
  const auto size = static_cast<Eigen::Index>(order);
  const Eigen::VectorXd diagonal = Eigen::Map<const Eigen::VectorXd>(diagonal_.data(), size);
  const Eigen::VectorXd next = Eigen::Map<const Eigen::VectorXd>(next_.data(), size - 1);
  Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd> solver;
  solver.computeFromTridiagonal(diagonal, next);
  Points points;
  for (Eigen::Index i = 0; i < size; ++i) {
    const double t = solver.eigenvalues()(i);
    const double first = solver.eigenvectors()(0, i);
    points.nodes.push_back(map_.scale * std::pow((1.0 + t) / (1.0 - t), 1.0 / map_.exponent));
    points.weights.push_back(total_ * first * first);
  }
  return points;
}

}  // namespace mintspread::signature
