#pragma once

#include <cstddef>
#include <cstdint>
#include <stop_token>

#include "engine/study/pipeline.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

struct ShareOptions {
  std::uint64_t seed = 1;
  std::uint64_t rows = 8192;  ///< of the two base matrices, rounded up to 16 replicates of a power of two
  std::size_t threads = 0;
  std::stop_token stop;
};

/// Shares of the variance of every channel's reading owed to each step, each tolerance and each group, first order and
/// total, by pick-freeze of whole groups of factors (statistics/variance_shares.hpp). Matrices A and
/// B are streams 0 and 1 of scrambled Sobol' points, of plain draws where there are more coordinates than points have.
/// Conditions of the slot and noise are steps of their own. Quantities that are correlated across steps form one block,
/// which then stands in place of them. Factors that move no row of a channel
/// are left out there. Fills ChannelResult::shares.
void add_shares(const Study::Prepared& study, const ShareOptions& options, Result& result);

/// Standard deviation of every channel owed to each group alone (the root of its first-order share of the variance:
/// the component of a crossed analysis of variance), largest first; what is left of the variance is due to groups
/// acting together, and negative where sampling error makes the parts more than the whole.
std::vector<LotChannel> group_components(const Study::Prepared& study, const ShareOptions& options);

}  // namespace mintspread::study
