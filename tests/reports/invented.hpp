#pragma once

#include <vector>

#include "engine/study/result.hpp"

namespace mintspread::reports_tests {

/// An invented result with everything a report has to tell: three machine classes, relations, marked and undefined
/// channels, unknown inputs, targets met, missed and undecided, infinite limits. Normal distributions, by formula: the
/// same numbers on every machine up to rounding, so they are rounded to 9 digits.
study::Result invented_result();

/// The same scenario for a solid coin given by its section: no bands, no window that rejects anything, no targets.
study::Result invented_solid_result();

/// Three invented constructions of one coin, read by one sensor.
std::vector<study::Result> invented_coins();

}  // namespace mintspread::reports_tests
