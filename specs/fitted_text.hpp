#pragma once

#include <string>

#include "engine/sampling/distribution.hpp"

namespace mintspread::specs {

/// A quantity of a specification in its long form, on one line, that the reader takes for this distribution: values
/// `at` plus a deviation of `shape`, told in `unit` (empty for a pure number) to a thousandth of its standard
/// deviation. `more` are further keys, each beginning with a comma: ", varies: [0.4 um per barrel], basis: measured
/// n=240". No shape of measured data, no general truncation.
std::string fitted_text(double at, const sampling::Shape& shape, const std::string& unit, const std::string& more = {});

}  // namespace mintspread::specs
