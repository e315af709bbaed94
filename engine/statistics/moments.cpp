#include "engine/statistics/moments.hpp"

#include <array>
#include <cmath>
#include <cstddef>

namespace mintspread::statistics {

namespace {

/// Sums in eight fixed lanes: the order is part of the result, and the compiler may use vectors for it.
constexpr std::size_t lanes = 8;

double total(const std::array<double, lanes>& sums) {
  return ((sums[0] + sums[1]) + (sums[2] + sums[3])) + ((sums[4] + sums[5]) + (sums[6] + sums[7]));
}

}  // namespace

void Moments::add(std::span<const double> values) {
  if (values.empty()) return;
  const std::size_t whole = values.size() / lanes * lanes;
  const auto n = static_cast<double>(values.size());
  std::array<double, lanes> sums{};
  for (std::size_t i = 0; i < whole; i += lanes) {
    for (std::size_t l = 0; l < lanes; ++l) sums[l] += values[i + l];
  }
  for (std::size_t i = whole; i < values.size(); ++i) sums[i - whole] += values[i];
  Moments block;
  block.count_ = values.size();
  block.mean_ = total(sums) / n;
  std::array<double, lanes> s1{}, s2{}, s3{}, s4{};
  const auto power_sums = [&](std::size_t i, std::size_t l) {
    const double d = values[i] - block.mean_;
    const double d2 = d * d;
    s1[l] += d;
    s2[l] += d2;
    s3[l] += d2 * d;
    s4[l] += d2 * d2;
  };
  for (std::size_t i = 0; i < whole; i += lanes) {
    for (std::size_t l = 0; l < lanes; ++l) power_sums(i + l, l);
  }
  for (std::size_t i = whole; i < values.size(); ++i) power_sums(i, i - whole);
  // The rounded mean leaves a small first moment, which the corrected two-pass formula takes out again.
  const double e = total(s1) / n;
  block.mean_ += e;
  block.m2_ = total(s2) - n * e * e;
  block.m3_ = total(s3) - 3.0 * e * total(s2) + 2.0 * n * e * e * e;
  block.m4_ = total(s4) - 4.0 * e * total(s3) + 6.0 * e * e * total(s2) - 3.0 * n * e * e * e * e;
  merge(block);
}

void Moments::merge(const Moments& later) {
  if (later.count_ == 0) return;
  if (count_ == 0) {
    *this = later;
    return;
  }
  const auto na = static_cast<double>(count_);
  const auto nb = static_cast<double>(later.count_);
  const double n = na + nb;
  const double d = later.mean_ - mean_;
  const double d_n = d / n;
  m4_ += later.m4_ + d * d_n * d_n * d_n * na * nb * (na * na - na * nb + nb * nb) +
         6.0 * d_n * d_n * (na * na * later.m2_ + nb * nb * m2_) + 4.0 * d_n * (na * later.m3_ - nb * m3_);
  m3_ += later.m3_ + d * d_n * d_n * na * nb * (na - nb) + 3.0 * d_n * (na * later.m2_ - nb * m2_);
  m2_ += later.m2_ + d * d_n * na * nb;
  mean_ += d_n * nb;
  count_ += later.count_;
}

double Moments::variance() const { return count_ < 2 ? 0.0 : m2_ / static_cast<double>(count_ - 1); }
double Moments::sd() const { return std::sqrt(variance()); }

double Moments::skewness() const {
  if (!(m2_ > 0.0)) return 0.0;
  const auto n = static_cast<double>(count_);
  return (m3_ / n) / std::pow(m2_ / n, 1.5);
}

double Moments::excess_kurtosis() const {
  if (!(m2_ > 0.0)) return 0.0;
  return static_cast<double>(count_) * m4_ / (m2_ * m2_) - 3.0;
}

}  // namespace mintspread::statistics
