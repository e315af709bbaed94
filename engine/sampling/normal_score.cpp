#include "engine/sampling/normal_score.hpp"

#include <cmath>
#include <numbers>

#include "engine/base/contract.hpp"
#include "engine/sampling/kernels.hpp"

namespace mintspread::sampling {

void normal_scores(std::span<const double> u, std::span<double> scores) {
  expect(u.size() == scores.size(), "as many normal scores as uniforms");
  kernels::normal_scores(u, scores);
}

double normal_score(double u) {
  double score;
  kernels::normal_scores({&u, 1}, {&score, 1});
  return score;
}

double normal_cdf(double z) { return 0.5 * std::erfc(-z / std::numbers::sqrt2); }

}  // namespace mintspread::sampling
