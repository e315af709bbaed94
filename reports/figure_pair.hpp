#pragma once

#include <string>

#include "engine/study/result.hpp"
#include "reports/pairs.hpp"

namespace mintspread::reports {

/// Readings of two channels in their plane: the sample's pieces by the class's verdict, its windows as a box, its
/// relations of the two as dashed lines. `id` is unique in the page.
std::string draw_pair(const study::Result& result, const ChannelPair& pair, const std::string& id);

/// What stands for what in draw_pair, and how many pieces are drawn.
std::string pair_caption(const study::Result& result, const ChannelPair& pair);

}  // namespace mintspread::reports
