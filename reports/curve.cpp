#include "reports/curve.hpp"

#include <algorithm>

namespace mintspread::reports {

std::vector<Step> steps_of(const study::Histogram& histogram, std::uint64_t pieces, const Range& range) {
  std::vector<Step> steps;
  if (histogram.counts.empty() || pieces == 0) return steps;
  const double width = (histogram.upper - histogram.lower) / static_cast<double>(histogram.counts.size());
  if (!(width > 0.0)) return steps;
  for (std::size_t i = 0; i < histogram.counts.size(); ++i) {
    const double left = std::max(range.lower, histogram.lower + static_cast<double>(i) * width);
    const double right = std::min(range.upper, histogram.lower + static_cast<double>(i + 1) * width);
    if (right > left)
      steps.push_back({left, right, static_cast<double>(histogram.counts[i]) / (width * static_cast<double>(pieces))});
  }
  return steps;
}

double peak(const std::vector<Step>& steps) {
  double highest = 0.0;
  for (const auto& step : steps) highest = std::max(highest, step.density);
  return highest;
}

Points outline(const std::vector<Step>& steps, const Scale& x, const Scale& y) {
  Points points;
  if (steps.empty()) return points;
  points.emplace_back(x(steps.front().left), y(0.0));
  for (const auto& step : steps) {
    const double height = y.kept(step.density);
    if (points.back().second != height) points.emplace_back(x(step.left), height);
    points.emplace_back(x(step.right), height);
  }
  points.emplace_back(x(steps.back().right), y(0.0));
  return points;
}

std::vector<Step> cut(const std::vector<Step>& steps, double lower, double upper) {
  std::vector<Step> inside;
  for (auto step : steps) {
    step.left = std::max(step.left, lower);
    step.right = std::min(step.right, upper);
    if (step.right > step.left) inside.push_back(step);
  }
  return inside;
}

}  // namespace mintspread::reports
