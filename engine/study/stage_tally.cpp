#include "engine/study/stage_tally.hpp"

#include <array>
#include <cmath>
#include <optional>

namespace mintspread::study {

namespace {

/// Values of the solved lanes of a block, side by side.
class Solved {
 public:
  Solved(std::span<const double> values, std::span<const std::size_t> lanes) : count_(lanes.size()) {
    for (std::size_t i = 0; i < count_; ++i) {
      values_[i] = values[lanes[i]];
      whole_ = whole_ && !std::isnan(values_[i]);
    }
    if (whole_) centred_.emplace(this->values());
  }
  bool whole() const { return whole_; }                                   ///< without NaN
  const statistics::CentredColumn& centred() const { return *centred_; }  ///< of whole ones
  std::span<const double> values() const { return std::span(values_).first(count_); }

 private:
  std::size_t count_;
  bool whole_ = true;
  std::array<double, block_lanes> values_;
  std::optional<statistics::CentredColumn> centred_;
};

/// Those values for which `wanted(position)` holds, in `to`.
template <class Wanted>
std::span<const double> kept(std::span<const double> values, Wanted wanted, std::array<double, block_lanes>& to) {
  std::size_t n = 0;
  for (std::size_t i = 0; i < values.size(); ++i) {
    to[n] = values[i];
    n += wanted(i) ? 1U : 0U;
  }
  return std::span(to).first(n);
}

}  // namespace

StageTally::StageTally(std::span<const statistics::BinEdges> edges, std::size_t channels, std::size_t windows)
    : channels_(channels), windows_(windows), pairs_(edges.size() * channels) {
  for (const auto& of : edges) {
    varies_.push_back(of.bins > 1);
    pieces_.emplace_back(of);
    accepted_.insert(accepted_.end(), windows, statistics::BinnedCounts(of));
  }
}

const statistics::PairMoments& StageTally::pair(std::size_t quantity, std::size_t channel) const {
  return pairs_[quantity * channels_ + channel];
}

const statistics::BinnedCounts& StageTally::accepted(std::size_t quantity, std::size_t window) const {
  return accepted_[quantity * windows_ + window];
}

void StageTally::add(std::size_t count, const Columns& stages, const signature::Readings& reading,
                     std::span<const Failure> failures) {
  std::vector<std::array<std::uint8_t, block_lanes>> failed(windows_);
  for (const Failure& failure : failures) failed[failure.window][failure.lane] = 1;
  std::vector<std::size_t> lanes;
  for (std::size_t lane = 0; lane < count; ++lane)
    if (reading.unsolved[lane] == 0) lanes.push_back(lane);
  std::vector<Solved> channels;
  for (std::size_t c = 0; c < channels_; ++c) channels.emplace_back(reading.values[c], lanes);
  std::array<double, block_lanes> first{}, second{};
  for (std::size_t q = 0; q < varies_.size(); ++q) {
    if (!varies_[q]) continue;
    const Solved of(stages[q], lanes);
    const auto values = of.values();
    const auto known = [&](std::size_t i) { return !std::isnan(values[i]); };
    pieces_[q].add(of.whole() ? values : kept(values, known, first));
    for (std::size_t w = 0; w < windows_; ++w) {
      const auto passed = [&](std::size_t i) { return known(i) && failed[w][lanes[i]] == 0; };
      accepted_[q * windows_ + w].add(kept(values, passed, first));
    }
    for (std::size_t c = 0; c < channels_; ++c) {
      const auto beside = channels[c].values();
      auto& pair = pairs_[q * channels_ + c];
      if (of.whole() && channels[c].whole()) {
        pair.add(of.centred(), channels[c].centred());
        continue;
      }
      const auto both = [&](std::size_t i) { return known(i) && !std::isnan(beside[i]); };
      pair.add(kept(values, both, first), kept(beside, both, second));
    }
  }
}

void StageTally::merge(const StageTally& later) {
  for (std::size_t p = 0; p < pairs_.size(); ++p) pairs_[p].merge(later.pairs_[p]);
  for (std::size_t q = 0; q < pieces_.size(); ++q) pieces_[q].merge(later.pieces_[q]);
  for (std::size_t a = 0; a < accepted_.size(); ++a) accepted_[a].merge(later.accepted_[a]);
}

}  // namespace mintspread::study
