#pragma once

#include "engine/study/result.hpp"

namespace mintspread::reports_tests {

/// Invented whole pieces that fit the channels and windows of `result`, whose relations are ratios of the first two
/// channels; correlations and lines of relations to go with them.
study::JointResult invented_joint(const study::Result& result);

}  // namespace mintspread::reports_tests
