#pragma once

#include <optional>
#include <string>
#include <vector>

#include "specs/check.hpp"
#include "specs/gauge.hpp"
#include "specs/statement.hpp"

namespace mintspread::specs {

// What a gauge file beside `data` does to the measured values of a quantity.

/// The gauge file of a measured column; a finding where it reads another kind of thing, another layer, another element
/// or elsewhere.
std::optional<Gauge> open_gauge(const Node& file, const Fields& data, const MeasuredUnit& unit,
                                const StatementReader& reader);

/// Takes a gauge's error out of measured values: bias off every value, then deviations from the mean drawn together
/// (or, where a reading is the mean of several pieces, apart) to the variance of the pieces; of an element's mass the
/// whole layer's. Says how; empty after a finding.
std::string without_gauge(const Gauge& gauge, std::vector<double>& values, const Node& file, const Unit& unit,
                          const StatementReader& reader);

/// Of a sample, with divisor n - 1.
double sd_of(const std::vector<double>& values, double mean);

}  // namespace mintspread::specs
