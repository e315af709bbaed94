#include "engine/statistics/correlation.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/normal.hpp>
#include <cmath>
#include <cstddef>
#include <limits>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {

/// Sums in eight fixed lanes: the order is part of the result, and the compiler may use vectors for it.
constexpr std::size_t lanes = 8;

template <class Term>
double sum_of(std::size_t count, Term term) {
  std::array<double, lanes> sums{};
  const std::size_t whole = count / lanes * lanes;
  for (std::size_t i = 0; i < whole; i += lanes) {
    for (std::size_t l = 0; l < lanes; ++l) sums[l] += term(i + l);
  }
  for (std::size_t i = whole; i < count; ++i) sums[i - whole] += term(i);
  return ((sums[0] + sums[1]) + (sums[2] + sums[3])) + ((sums[4] + sums[5]) + (sums[6] + sums[7]));
}

}  // namespace

CentredColumn::CentredColumn(std::span<const double> values) : deviations_(values.size()) {
  if (values.empty()) return;
  mean_ = sum_of(values.size(), [&](std::size_t i) { return values[i]; }) / static_cast<double>(values.size());
  for (std::size_t i = 0; i < values.size(); ++i) deviations_[i] = values[i] - mean_;
  squares_ = sum_of(values.size(), [&](std::size_t i) { return deviations_[i] * deviations_[i]; });
}

void PairMoments::add(std::span<const double> first, std::span<const double> second) {
  add(CentredColumn(first), CentredColumn(second));
}

void PairMoments::add(const CentredColumn& first, const CentredColumn& second) {
  const auto &a = first.deviations_, &b = second.deviations_;
  expect(a.size() == b.size(), "pairs have two values");
  PairMoments block;
  block.count_ = a.size();
  block.mean_first_ = first.mean_;
  block.mean_second_ = second.mean_;
  block.squares_first_ = first.squares_;
  block.squares_second_ = second.squares_;
  block.products_ = sum_of(a.size(), [&](std::size_t i) { return a[i] * b[i]; });
  merge(block);
}

void PairMoments::merge(const PairMoments& later) {
  if (later.count_ == 0) return;
  if (count_ == 0) {
    *this = later;
    return;
  }
  const auto na = static_cast<double>(count_), nb = static_cast<double>(later.count_);
  const double d_first = later.mean_first_ - mean_first_, d_second = later.mean_second_ - mean_second_;
  const double weight = na * nb / (na + nb);
  squares_first_ += later.squares_first_ + d_first * d_first * weight;
  squares_second_ += later.squares_second_ + d_second * d_second * weight;
  products_ += later.products_ + d_first * d_second * weight;
  mean_first_ += d_first * nb / (na + nb);
  mean_second_ += d_second * nb / (na + nb);
  count_ += later.count_;
}

double PairMoments::correlation() const {
  if (!(squares_first_ > 0.0 && squares_second_ > 0.0)) return std::numeric_limits<double>::quiet_NaN();
  return std::clamp(products_ / std::sqrt(squares_first_) / std::sqrt(squares_second_), -1.0, 1.0);
}

Interval correlation_interval(double correlation, std::uint64_t count, double confidence) {
  expect(count > 3, "an interval for a correlation needs four pairs");
  const double half = quantile(boost::math::normal_distribution<>(), 0.5 * (1.0 + confidence)) /
                      std::sqrt(static_cast<double>(count) - 3.0);
  const double centre = std::atanh(correlation);
  return {std::tanh(centre - half), std::tanh(centre + half)};
}

}  // namespace mintspread::statistics
