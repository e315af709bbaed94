#pragma once

#include <cstddef>

#include "engine/study/result.hpp"
#include "reports/paper.hpp"

namespace mintspread::reports {

/// The coin's section in characters, from the upper face to the lower, beside the layers' numbers: each plating layer a
/// letter, wrapped round the rim where it lies there, the core '#'. Not to scale. `width` is that of the drawing.
TextTable section_table(const study::NominalCoin& coin, std::size_t width);

}  // namespace mintspread::reports
