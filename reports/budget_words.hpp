#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "engine/study/result.hpp"

namespace mintspread::reports {

// A budget entry in the units a person uses: the channel's for effects, the input's for spreads.

/// "0.667 um".
std::string entry_spread(const study::Result& result, const study::BudgetEntry& entry);

/// "19.5 counts per um".
std::string entry_sensitivity(const study::Result& result, const study::ChannelResult& channel,
                              const study::BudgetEntry& entry);

/// Entries of a channel's budget that are worth a line: the first three and those of at least 0.15 of the largest,
/// of a third where no window uses the channel.
std::size_t told_entries(const study::Result& result, const study::ChannelResult& channel);

/// Shares of at least 2 % of the variance with interactions, in their order.
std::vector<const study::Share*> told_shares(const study::ChannelResult& channel);

/// Components of at least 2 % of the variance, in their order.
std::vector<const study::LotComponent*> told_components(const study::LotChannel& channel);

/// "step", "tolerance", "level".
std::string kind_word(study::ShareKind kind);

/// A share of variance in per cent: value, interval; may be negative.
study::Figure in_percent(const study::Figure& share);

/// Half of the window and what uses it, in words: "off centre 2.8, barrel 21.7, not known 14.0, left -17.1".
std::string use_words(const study::WindowUse& use);

}  // namespace mintspread::reports
