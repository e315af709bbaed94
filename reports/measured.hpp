#pragma once

#include <string>

#include "engine/measured/measured_result.hpp"
#include "reports/text.hpp"

namespace mintspread::reports {

/// `mintspread fit`: what the column holds, shapes ranked, the best drawn against the data, spread by group, gauges,
/// how far the tails reach, and the lines for a specification.
std::string measured_text(const measured::MeasuredResult& result, const TextOptions& options);

/// The same as JSON, `"format": "mintspread fit 1"`. A number that does not exist is null.
std::string measured_json(const measured::MeasuredResult& result);

/// The same as one HTML file that asks for nothing else: histogram and quantiles of data and best shape, tables, lines.
std::string measured_page(const measured::MeasuredResult& result);

}  // namespace mintspread::reports
