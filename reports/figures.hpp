#pragma once

#include <string>

#include "engine/study/result.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

// The drawings of the page, each an <svg> with its text alternative. `id` is unique in the page. An empty text means
// that the result has nothing to draw.

/// What each criterion rejects, with its interval and band, on a logarithmic scale; the most first.
std::string draw_losses(const study::Result& result, const std::string& id);

/// The distribution of a channel or relation, its quantiles, what is not known, and its windows as brackets under the
/// curve.
std::string draw_distribution(const study::Result& result, const Subject& subject, const std::string& id);

/// What stands for what in draw_distribution.
std::string distribution_caption(const Subject& subject);

/// The standard deviation that each quantity causes in a channel, the largest first; an arrow says which way the
/// reading goes.
std::string draw_budget(const study::Result& result, const study::ChannelResult& channel, const std::string& id);

/// Half of each window of a subject as a bar of what uses it: off centre, levels from light to dark, what is not known.
std::string draw_window_use(const study::Result& result, const Subject& subject, const std::string& id);

/// Shares of a channel's variance: diamond alone, dot with interactions and its interval.
std::string draw_shares(const study::ChannelResult& channel, const std::string& id);

/// The coin's section to scale, and the plating at the rim magnified.
std::string draw_section(const study::NominalCoin& coin, const std::string& id);

/// The nominal impedance change in the plane, over frequency, one line for each pair of coils.
std::string draw_impedance(const study::NominalCoin& coin, const std::string& id);

/// The nominal voltage at each decay gate, both axes logarithmic; gates as bars of their width.
std::string draw_decay(const study::NominalCoin& coin, const std::string& id);

/// Units as they are printed: "um" as "µm", "degC" as "°C"; also at the end of a quantity, "5.8 um".
std::string typeset(const std::string& unit);

/// "skin: reactance at 240 kHz, coil face".
std::string subject_title(const Subject& subject);

/// A window in words: "405 to 452 counts", "at least 28 % IACS".
std::string window_words(const study::CriterionResult& criterion);

}  // namespace mintspread::reports
