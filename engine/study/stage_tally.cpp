#include "engine/study/stage_tally.hpp"

#include <array>
#include <cmath>

namespace mintspread::study {

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
  std::array<double, block_lanes> kept{}, beside{};
  for (std::size_t q = 0; q < varies_.size(); ++q) {
    if (!varies_[q]) continue;
    const auto values = stages[q].first(count);
    const auto gather = [&](auto&& wanted) {
      std::size_t n = 0;
      for (std::size_t lane = 0; lane < count; ++lane) {
        if (reading.unsolved[lane] == 0 && !std::isnan(values[lane]) && wanted(lane)) kept[n++] = values[lane];
      }
      return std::span<const double>(kept).first(n);
    };
    pieces_[q].add(gather([](std::size_t) { return true; }));
    for (std::size_t w = 0; w < windows_; ++w)
      accepted_[q * windows_ + w].add(gather([&](std::size_t lane) { return failed[w][lane] == 0; }));
    for (std::size_t c = 0; c < channels_; ++c) {
      const auto channel = reading.values[c];
      const auto first = gather([&](std::size_t lane) { return !std::isnan(channel[lane]); });
      std::size_t n = 0;
      for (std::size_t lane = 0; lane < count; ++lane) {
        if (reading.unsolved[lane] == 0 && !std::isnan(values[lane]) && !std::isnan(channel[lane]))
          beside[n++] = channel[lane];
      }
      pairs_[q * channels_ + c].add(first, std::span<const double>(beside).first(n));
    }
  }
}

void StageTally::merge(const StageTally& later) {
  for (std::size_t p = 0; p < pairs_.size(); ++p) pairs_[p].merge(later.pairs_[p]);
  for (std::size_t q = 0; q < pieces_.size(); ++q) pieces_[q].merge(later.pieces_[q]);
  for (std::size_t a = 0; a < accepted_.size(); ++a) accepted_[a].merge(later.accepted_[a]);
}

}  // namespace mintspread::study
