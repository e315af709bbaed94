#include "engine/sampling/rank_correlation.hpp"

#include <fmt/format.h>

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::sampling {

namespace {

// Correlations nearer to singular than this are refused: the Cholesky factor would be rounding.
constexpr double least_eigenvalue = 1e-10;

double score_correlation(double rank) { return 2.0 * std::sin(pi * rank / 6.0); }
double rank_correlation(double score) { return 6.0 / pi * std::asin(0.5 * score); }

Eigen::MatrixXd matrix_of(std::size_t size, const std::vector<RankPair>& pairs) {
  const auto n = static_cast<Eigen::Index>(size);
  Eigen::MatrixXd matrix = Eigen::MatrixXd::Identity(n, n);
  for (const RankPair& pair : pairs) {
    const auto i = static_cast<Eigen::Index>(pair.first), j = static_cast<Eigen::Index>(pair.second);
    matrix(i, j) = matrix(j, i) = score_correlation(pair.rank);
  }
  return matrix;
}

double smallest_eigenvalue(const Eigen::MatrixXd& matrix) {
  return Eigen::SelfAdjointEigenSolver<Eigen::MatrixXd>(matrix, Eigen::EigenvaluesOnly).eigenvalues()(0);
}

Eigen::MatrixXd part_of(const Eigen::MatrixXd& matrix, const std::vector<std::size_t>& members) {
  const auto n = static_cast<Eigen::Index>(members.size());
  Eigen::MatrixXd part(n, n);
  for (Eigen::Index i = 0; i < n; ++i)
    for (Eigen::Index j = 0; j < n; ++j)
      part(i, j) = matrix(static_cast<Eigen::Index>(members[static_cast<std::size_t>(i)]),
                          static_cast<Eigen::Index>(members[static_cast<std::size_t>(j)]));
  return part;
}

// Leaves out one quantity after the other as long as the rest still contradicts itself. What remains is minimal:
// without any one of its members it would be possible.
std::vector<std::size_t> culprits(const Eigen::MatrixXd& matrix) {
  std::vector<std::size_t> members(static_cast<std::size_t>(matrix.rows()));
  for (std::size_t i = 0; i < members.size(); ++i) members[i] = i;
  for (std::size_t k = members.size(); k-- > 0;) {
    std::vector<std::size_t> fewer = members;
    fewer.erase(fewer.begin() + static_cast<std::ptrdiff_t>(k));
    if (!fewer.empty() && smallest_eigenvalue(part_of(matrix, fewer)) < least_eigenvalue) members = std::move(fewer);
  }
  return members;
}

IndefiniteCorrelation diagnose(const Eigen::MatrixXd& matrix, const std::vector<RankPair>& pairs) {
  IndefiniteCorrelation failure{smallest_eigenvalue(matrix), culprits(matrix), {}, {}};
  const double own = smallest_eigenvalue(part_of(matrix, failure.members));
  // Correlations times f have eigenvalues 1 - f (1 - eigenvalue). The margin is what cutting each of them to two digits
  // (up to 0.01 in rank, pi/3 of that in score) can move an eigenvalue by.
  const double margin = std::min(0.5, 0.0105 * static_cast<double>(failure.members.size() - 1));
  const double factor = (1.0 - margin) / (1.0 - own);
  const auto is_member = [&](std::size_t i) { return std::ranges::find(failure.members, i) != failure.members.end(); };
  for (const RankPair& pair : pairs) {
    if (!is_member(pair.first) || !is_member(pair.second)) continue;
    failure.stated.push_back(pair);
    const double possible = rank_correlation(factor * score_correlation(pair.rank));
    failure.possible.push_back({pair.first, pair.second, std::trunc(100.0 * possible) / 100.0});
  }
  return failure;
}

std::string listed(const std::vector<RankPair>& pairs, const std::vector<std::string>& names) {
  std::string text;
  for (const RankPair& pair : pairs)
    text +=
        fmt::format("{}{} with {}: {:g}", text.empty() ? "" : ", ", names[pair.first], names[pair.second], pair.rank);
  return text;
}

/// Pairs among `members` that nothing is stated of.
std::vector<RankPair> left_out(const IndefiniteCorrelation& failure) {
  std::vector<RankPair> out;
  for (const std::size_t one : failure.members)
    for (const std::size_t other : failure.members) {
      const bool stated = std::ranges::any_of(failure.stated, [&](const RankPair& pair) {
        return (pair.first == one && pair.second == other) || (pair.first == other && pair.second == one);
      });
      if (one < other && !stated) out.push_back({one, other, 0.0});
    }
  return out;
}

}  // namespace

std::string IndefiniteCorrelation::describe(const std::vector<std::string>& names) const {
  return fmt::format(
      "the rank correlations contradict each other ({}): no quantities can vary like this "
      "(smallest eigenvalue of their correlation matrix {:.3g}, must be above 0{})",
      listed(stated, names), smallest_eigenvalue,
      left_out(*this).empty() ? "" : fmt::format("; not stated: {}", listed(left_out(*this), names)));
}

std::string IndefiniteCorrelation::remedy(const std::vector<std::string>& names) const {
  return fmt::format("Bring them nearer to zero (possible would be {}){}.", listed(possible, names),
                     left_out(*this).empty() ? "" : ", or state what is left out");
}

std::variant<RankCorrelation, IndefiniteCorrelation> RankCorrelation::make(std::size_t size,
                                                                           const std::vector<RankPair>& pairs) {
  for (std::size_t k = 0; k < pairs.size(); ++k) {
    const auto& [first, second, rank] = pairs[k];
    expect(first < size && second < size && first != second, "a rank correlation joins two different quantities");
    expect(rank > -1.0 && rank < 1.0, "a rank correlation lies between -1 and 1");
    for (std::size_t m = 0; m < k; ++m)
      expect(!(pairs[m].first == first && pairs[m].second == second) &&
                 !(pairs[m].first == second && pairs[m].second == first),
             "a rank correlation is stated once");
  }
  const Eigen::MatrixXd matrix = matrix_of(size, pairs);
  if (size > 0 && !(smallest_eigenvalue(matrix) >= least_eigenvalue)) return diagnose(matrix, pairs);
  const Eigen::MatrixXd factor = matrix.llt().matrixL();
  RankCorrelation correlation;
  correlation.size_ = size;
  for (Eigen::Index i = 0; i < factor.rows(); ++i)
    for (Eigen::Index j = 0; j < factor.cols(); ++j) correlation.factor_.push_back(factor(i, j));
  return correlation;
}

void RankCorrelation::apply(std::span<const std::span<double>> scores) const {
  expect(scores.size() == size_, "as many spans of scores as correlated quantities");
  // From the last row upwards each row needs only rows that are still as drawn.
  for (std::size_t i = size_; i-- > 0;) {
    const std::span<double> row = scores[i];
    const double own = factor_[i * size_ + i];
    if (own != 1.0)
      for (double& score : row) score *= own;
    for (std::size_t j = 0; j < i; ++j) {
      const double weight = factor_[i * size_ + j];
      if (weight == 0.0) continue;
      expect(scores[j].size() == row.size(), "spans of scores have one length");
      for (std::size_t lane = 0; lane < row.size(); ++lane) row[lane] += weight * scores[j][lane];
    }
  }
}

}  // namespace mintspread::sampling
