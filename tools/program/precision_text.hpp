#pragma once

#include <string>

#include "engine/study/precision.hpp"

namespace mintspread::program {

/// Reads "accepted +/- 0.01 %", "accepted by vending +/- 0.01 %", "mean of skin +/- 0.1 counts", "sd of ...", "median
/// of
/// ...", "99.865 % quantile of ...". Throws UsageError.
study::Precision read_precision(const std::string& text);

}  // namespace mintspread::program
