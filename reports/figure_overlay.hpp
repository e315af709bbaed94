#pragma once

#include <span>
#include <string>
#include <vector>

#include "engine/study/result.hpp"

namespace mintspread::reports {

/// One channel of one coin among several that are compared. `letter` names the coin in the drawing.
struct Compared {
  const study::Result* result;
  const study::ChannelResult* channel;
  std::string letter;
  std::string style;  ///< classes of its lines: a hue and dash a coin, a shade of the hue a state
  std::string label;  ///< its name, shortened where an earlier one says the same coin in another state
};

/// Distributions of one channel over each other, told apart by letter, dash and hue, states of one coin by shades of
/// its hue, with the windows of the first coin's classes under them. All channels are in the same unit.
std::string draw_overlay(std::span<const Compared> coins, const std::string& id);

}  // namespace mintspread::reports
