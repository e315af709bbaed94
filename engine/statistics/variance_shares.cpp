#include "engine/statistics/variance_shares.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

void PickFreezeSums::add(std::span<const double> a, std::span<const double> b, std::span<const double> ab) {
  expect(a.size() == b.size() && a.size() == ab.size(), "the three outputs belong to the same rows");
  constexpr std::size_t piece = 256;
  for (std::size_t first = 0; first < a.size(); first += piece) {
    std::array<double, 2 * piece> kept{};
    std::size_t count = 0;
    for (std::size_t i = first; i < std::min(first + piece, a.size()); ++i) {
      if (std::isnan(a[i]) || std::isnan(b[i]) || std::isnan(ab[i])) continue;
      from_b_ += (b[i] - ab[i]) * (b[i] - ab[i]);
      from_a_ += (a[i] - ab[i]) * (a[i] - ab[i]);
      product_ += b[i] * (ab[i] - a[i]);
      change_ += ab[i] - a[i];
      kept[count++] = a[i];
      kept[count++] = b[i];
    }
    outputs_.add(std::span(kept).first(count));
  }
}

void PickFreezeSums::merge(const PickFreezeSums& later) {
  outputs_.merge(later.outputs_);
  from_b_ += later.from_b_;
  from_a_ += later.from_a_;
  product_ += later.product_;
  change_ += later.change_;
}

double PickFreezeSums::first_order() const {
  if (!(variance() > 0.0)) return 0.0;
  return 1.0 - from_b_ / (2.0 * static_cast<double>(rows()) * variance());
}

double PickFreezeSums::first_order_as_part() const {
  if (!(variance() > 0.0)) return 0.0;
  return (product_ - outputs_.mean() * change_) / (static_cast<double>(rows()) * variance());
}

double PickFreezeSums::total() const {
  if (!(variance() > 0.0)) return 0.0;
  return from_a_ / (2.0 * static_cast<double>(rows()) * variance());
}

namespace {

template <class Estimator>
ShareEstimate jackknife(std::span<const PickFreezeSums> all_but_one, const PickFreezeSums& all, double confidence,
                        Estimator estimate) {
  const auto n = static_cast<double>(all_but_one.size());
  double mean = 0.0;
  for (const auto& sums : all_but_one) mean += estimate(sums) / n;
  double squares = 0.0;
  for (const auto& sums : all_but_one) squares += (estimate(sums) - mean) * (estimate(sums) - mean);
  const double error = std::sqrt((n - 1.0) / n * squares);
  const double t = quantile(boost::math::students_t_distribution<>(n - 1.0), 0.5 * (1.0 + confidence));
  const double value = estimate(all);
  return {value, {value - t * error, value + t * error}};
}

}  // namespace

VarianceShare variance_share(std::span<const PickFreezeSums> batches, double confidence) {
  expect(batches.size() >= 2, "a jackknife needs two batches");
  PickFreezeSums all;
  std::vector<PickFreezeSums> all_but_one(batches.size());
  for (std::size_t i = 0; i < batches.size(); ++i) {
    all.merge(batches[i]);
    for (std::size_t j = 0; j < batches.size(); ++j) {
      if (j != i) all_but_one[j].merge(batches[i]);
    }
  }
  const auto width = [](const ShareEstimate& share) { return share.interval.upper - share.interval.lower; };
  const auto large = jackknife(all_but_one, all, confidence, [](const auto& sums) { return sums.first_order(); });
  const auto small =
      jackknife(all_but_one, all, confidence, [](const auto& sums) { return sums.first_order_as_part(); });
  return {width(small) < width(large) ? small : large,
          jackknife(all_but_one, all, confidence, [](const auto& sums) { return sums.total(); })};
}

}  // namespace mintspread::statistics
