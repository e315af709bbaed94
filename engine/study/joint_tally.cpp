#include "engine/study/joint_tally.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>

#include "engine/base/columns.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::study {

namespace {

std::size_t position_of(std::size_t first, std::size_t second) { return second * (second - 1) / 2 + first; }

}  // namespace

JointTally::JointTally(std::size_t channels, std::size_t windows)
    : channels_(channels), pairs_(channels < 2 ? 0 : channels * (channels - 1) / 2), rejected_(windows) {}

const statistics::PairMoments& JointTally::pair(std::size_t first, std::size_t second) const {
  expect(first < second && second < channels_, "two channels, the first one first");
  return pairs_[position_of(first, second)];
}

void JointTally::add_pairs(std::size_t count, const signature::Readings& reading) {
  std::vector<std::optional<statistics::CentredColumn>> whole(channels_);
  for (std::size_t c = 0; c < channels_; ++c) {
    const auto values = reading.values[c].first(count);
    if (std::ranges::none_of(values, [](double v) { return std::isnan(v); })) whole[c].emplace(values);
  }
  std::array<double, block_lanes> first_kept{}, second_kept{};
  for (std::size_t second = 1; second < channels_; ++second) {
    for (std::size_t first = 0; first < second; ++first) {
      const auto a = reading.values[first].first(count), b = reading.values[second].first(count);
      auto& pair = pairs_[position_of(first, second)];
      if (whole[first] && whole[second]) {
        pair.add(*whole[first], *whole[second]);
        continue;
      }
      std::size_t kept = 0;
      for (std::size_t lane = 0; lane < count; ++lane) {
        if (std::isnan(a[lane]) || std::isnan(b[lane])) continue;
        first_kept[kept] = a[lane];
        second_kept[kept++] = b[lane];
      }
      pair.add(std::span(first_kept).first(kept), std::span(second_kept).first(kept));
    }
  }
}

// The n-th piece a window set rejects is kept when n is small; all are counted, kept or not. So a chunk keeps at least
// what the whole run needs of it, and merging drops the rest.
bool JointTally::keeps(const SampledPiece& piece, std::vector<std::uint64_t>& rejected) const {
  bool keep = piece.index < sampled_pieces;
  for (std::size_t f = 0; f < piece.failures.size(); ++f) {
    const std::size_t window = piece.failures[f].window;
    if (f > 0 && piece.failures[f - 1].window == window) continue;
    if (++rejected[window] <= sampled_rejects) keep = true;
  }
  return keep;
}

void JointTally::add(std::uint64_t first, std::size_t count, const signature::Readings& reading,
                     std::vector<Failure> failures) {
  add_pairs(count, reading);
  const bool enough = std::ranges::all_of(rejected_, [](std::uint64_t n) { return n >= sampled_rejects; });
  if (first >= sampled_pieces && (enough || failures.empty())) return;
  std::ranges::sort(failures, [](const Failure& a, const Failure& b) {
    return a.lane != b.lane ? a.lane < b.lane : a.window != b.window ? a.window < b.window : a.criterion < b.criterion;
  });
  auto failure = failures.begin();
  for (std::size_t lane = 0; lane < count; ++lane) {
    SampledPiece piece{first + lane, {}, {}};
    for (; failure != failures.end() && failure->lane == lane; ++failure) piece.failures.push_back(*failure);
    if (reading.unsolved[lane] != 0 || !keeps(piece, rejected_)) continue;
    for (std::size_t c = 0; c < channels_; ++c) piece.readings.push_back(reading.values[c][lane]);
    sample_.push_back(std::move(piece));
  }
}

void JointTally::merge(const JointTally& later) {
  for (std::size_t p = 0; p < pairs_.size(); ++p) pairs_[p].merge(later.pairs_[p]);
  std::vector<std::uint64_t> rejected = rejected_;
  for (const SampledPiece& piece : later.sample_) {
    if (keeps(piece, rejected)) sample_.push_back(piece);
  }
  for (std::size_t w = 0; w < rejected_.size(); ++w) rejected_[w] += later.rejected_[w];
}

}  // namespace mintspread::study
