#include "engine/statistics/binned_counts.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>

#include "engine/base/contract.hpp"

namespace mintspread::statistics {

namespace {
constexpr std::size_t fine_bins = 4096;
}

BinEdges BinEdges::from_pilot(std::span<const double> values) {
  double smallest = std::numeric_limits<double>::infinity();
  double largest = -smallest;
  for (const double value : values) {
    if (!std::isfinite(value)) continue;
    smallest = std::min(smallest, value);
    largest = std::max(largest, value);
  }
  if (!(smallest <= largest)) return {};
  const double range = largest - smallest;
  // Below a few units in the last place of the values bins would not be equal any more.
  const double least = 1e-12 * std::max({std::abs(smallest), std::abs(largest), 1e-300});
  if (range <= least) return {smallest - 0.5 * least, least, 1};
  return {smallest - range, 3.0 * range / static_cast<double>(fine_bins), fine_bins};
}

BinnedCounts::BinnedCounts(const BinEdges& edges)
    : edges_(edges),
      counts_(edges.bins + 2),
      smallest_(std::numeric_limits<double>::infinity()),
      largest_(-std::numeric_limits<double>::infinity()) {
  expect(edges.width > 0.0 && edges.bins > 0, "bins have a width");
}

void BinnedCounts::add(std::span<const double> values) {
  const double last = static_cast<double>(edges_.bins) + 1.0;
  const double scale = 1.0 / edges_.width;
  const double lower = edges_.lower;
  // Positions and extremes in fixed lanes first: the compiler makes vectors of them, which the scattered counting would
  // prevent.
  constexpr std::size_t piece = 256;
  constexpr std::size_t lanes = 8;
  std::array<std::int32_t, piece> position{};
  std::array<double, lanes> low{}, high{};
  low.fill(smallest_);
  high.fill(largest_);
  for (std::size_t first = 0; first < values.size(); first += piece) {
    const auto part = values.subspan(first, std::min(piece, values.size() - first));
    for (std::size_t i = 0; i < part.size(); ++i) {
      const double at = (part[i] - lower) * scale + 1.0;
      const double not_below = at > 0.0 ? at : 0.0;
      position[i] = static_cast<std::int32_t>(not_below < last ? not_below : last);
    }
    const std::size_t whole = part.size() / lanes * lanes;
    for (std::size_t i = 0; i < whole; i += lanes) {
      for (std::size_t l = 0; l < lanes; ++l) {
        low[l] = part[i + l] < low[l] ? part[i + l] : low[l];
        high[l] = part[i + l] > high[l] ? part[i + l] : high[l];
      }
    }
    for (std::size_t i = whole; i < part.size(); ++i) {
      low[0] = std::min(low[0], part[i]);
      high[0] = std::max(high[0], part[i]);
    }
    for (std::size_t i = 0; i < part.size(); ++i) ++counts_[static_cast<std::size_t>(position[i])];
  }
  smallest_ = std::ranges::min(low);
  largest_ = std::ranges::max(high);
  count_ += values.size();
}

void BinnedCounts::merge(const BinnedCounts& other) {
  expect(edges_ == other.edges_, "merged counts share their edges");
  for (std::size_t i = 0; i < counts_.size(); ++i) counts_[i] += other.counts_[i];
  count_ += other.count_;
  smallest_ = std::min(smallest_, other.smallest_);
  largest_ = std::max(largest_, other.largest_);
}

double BinnedCounts::value_at_rank(double rank) const {
  double before = 0.0;
  for (std::size_t i = 0; i < counts_.size(); ++i) {
    const auto here = static_cast<double>(counts_[i]);
    if (before + here < rank || here == 0.0) {
      before += here;
      continue;
    }
    const auto [left, right] = span_of(i);
    const double value = left + (right - left) * std::clamp((rank - before) / here, 0.0, 1.0);
    return std::clamp(value, smallest_, largest_);
  }
  return largest_;
}

double BinnedCounts::quantile(double p) const {
  if (count_ == 0) return std::numeric_limits<double>::quiet_NaN();
  if (constant()) return smallest_;
  return value_at_rank(p * static_cast<double>(count_));
}

Interval BinnedCounts::quantile_interval(double p, double confidence) const {
  if (count_ == 0) return {quantile(p), quantile(p)};
  if (constant()) return {smallest_, smallest_};
  const RankInterval ranks = quantile_ranks(count_, p, confidence);
  const auto at = [&](std::uint64_t rank) { return value_at_rank(static_cast<double>(rank) - 0.5); };
  return widened(quantile(p),
                 {ranks.lower == 0 ? smallest_ : at(ranks.lower), ranks.upper > count_ ? largest_ : at(ranks.upper)});
}

double BinnedCounts::fraction_below(double value) const {
  if (count_ == 0) return std::numeric_limits<double>::quiet_NaN();
  // The place by the width of bins, then by their edges, which rounding may have put to the other side of the value.
  const auto ends_above = [&](std::size_t i) { return value < span_of(i).upper; };
  const double at = (value - edges_.lower) / edges_.width + 1.0, last = static_cast<double>(counts_.size() - 1);
  auto bin = static_cast<std::size_t>(at > 0.0 ? std::min(at, last) : 0.0);
  while (bin > 0 && ends_above(bin - 1)) --bin;
  while (bin < counts_.size() && !ends_above(bin)) ++bin;
  if (bin == counts_.size()) return 1.0;
  const auto here = counts_.begin() + static_cast<std::ptrdiff_t>(bin);
  const auto before = static_cast<double>(std::accumulate(counts_.begin(), here, std::uint64_t{0}));
  const auto [left, right] = span_of(bin);
  const double part = value > left ? (value - left) / (right - left) : 0.0;
  return (before + part * static_cast<double>(*here)) / static_cast<double>(count_);
}

Interval BinnedCounts::values_between(double lower_fraction, double upper_fraction) const {
  if (count_ == 0) return {quantile(lower_fraction), quantile(upper_fraction)};
  if (constant()) return {smallest_, smallest_};
  const auto n = static_cast<double>(count_);
  return widened(value_at_rank(0.5 * (lower_fraction + upper_fraction) * n),
                 {value_at_rank(std::max(0.0, lower_fraction * n)), value_at_rank(std::min(n, upper_fraction * n))});
}

Interval BinnedCounts::widened(double value, const Interval& interval) const {
  const double error = interpolation_error(value);
  return {std::max(value - std::hypot(value - interval.lower, error), smallest_),
          std::min(value + std::hypot(interval.upper - value, error), largest_)};
}

Interval BinnedCounts::span_of(std::size_t position) const {
  const double left = position == 0 ? smallest_ : edges_.lower + static_cast<double>(position - 1) * edges_.width;
  const double right =
      position + 1 == counts_.size() ? largest_ : edges_.lower + static_cast<double>(position) * edges_.width;
  return {left, right};
}

double BinnedCounts::interpolation_error(double value) const {
  const double at = (value - edges_.lower) / edges_.width;
  if (!(at > 0.0) || !(at < static_cast<double>(edges_.bins))) return 0.0;
  const auto bin = static_cast<std::size_t>(at) + 1;
  const double before = static_cast<double>(counts_[bin - 1]);
  const double here = static_cast<double>(counts_[bin]);
  const double after = static_cast<double>(counts_[bin + 1]);
  const double sum = before + 2.0 * here + after;
  return sum > 0.0 ? 0.5 * edges_.width * std::abs(before - 2.0 * here + after) / sum : 0.5 * edges_.width;
}

CoarseHistogram BinnedCounts::stepped_histogram(std::size_t first, std::size_t last, std::size_t bins,
                                                double step) const {
  // A bin narrower than half a step holds at most one multiple of it, the one next to its middle.
  const auto multiple = [&](std::size_t bin) {
    return std::llround((edges_.lower + (static_cast<double>(bin) + 0.5) * edges_.width) / step);
  };
  const auto lowest = multiple(first), highest = multiple(last);
  const auto steps = static_cast<std::size_t>(highest - lowest + 1);
  const std::size_t together = (steps + bins - 1) / bins;
  CoarseHistogram drawn{(static_cast<double>(lowest) - 0.5) * step, 0.0,
                        std::vector<std::uint64_t>((steps + together - 1) / together), counts_.front(), counts_.back()};
  for (std::size_t i = first; i <= last; ++i)
    drawn.counts[static_cast<std::size_t>(multiple(i) - lowest) / together] += counts_[i + 1];
  drawn.upper = drawn.lower + static_cast<double>(drawn.counts.size() * together) * step;
  return drawn;
}

CoarseHistogram BinnedCounts::histogram(std::size_t bins, double step) const {
  if (count_ == 0) return {0.0, 0.0, {}, 0, 0};
  if (constant()) return {smallest_, smallest_, {count_}, 0, 0};
  const auto bin_of = [&](double value) {
    const double position =
        std::clamp((value - edges_.lower) / edges_.width, 0.0, static_cast<double>(edges_.bins - 1));
    return static_cast<std::size_t>(position);
  };
  const std::size_t first = bin_of(smallest_);
  const std::size_t last = bin_of(largest_);
  if (edges_.width < 0.5 * step) return stepped_histogram(first, last, bins, step);
  const std::size_t together = std::max<std::size_t>(1, (last - first + bins) / bins);
  CoarseHistogram drawn{
      edges_.lower + static_cast<double>(first) * edges_.width, 0.0, {}, counts_.front(), counts_.back()};
  std::size_t next = first;
  for (; next <= last; next += together) {
    std::uint64_t sum = 0;
    for (std::size_t i = next; i < std::min(next + together, edges_.bins); ++i) sum += counts_[i + 1];
    drawn.counts.push_back(sum);
  }
  drawn.upper = edges_.lower + static_cast<double>(next) * edges_.width;
  return drawn;
}

}  // namespace mintspread::statistics
