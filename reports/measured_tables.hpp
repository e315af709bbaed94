#pragma once

#include <cstdint>
#include <string>

#include "engine/measured/measured_result.hpp"
#include "reports/page_table.hpp"

namespace mintspread::reports {

// The tables of a fit's page. Each estimated number stands with its interval or standard uncertainty.

/// With narrow blanks that no line breaks at.
std::string counted(std::uint64_t number);

/// Whether some group spreads and is told apart from what is within it: values of one of its units are then alike.
bool told_apart(const measured::MeasuredResult& result);

/// The shapes whose quantiles are told: others fit so much worse that theirs say nothing.
bool near_best(const measured::ShapeRow& shape);

PageTable fit_bars_table(const measured::MeasuredResult& result);
PageTable fit_pairs_table(const measured::MeasuredResult& result);
PageTable fit_ranks_table(const measured::MeasuredResult& result);
PageTable fit_reach_table(const measured::MeasuredResult& result);
PageTable fit_groups_table(const measured::MeasuredResult& result);
PageTable fit_gauge_table(const measured::MeasuredResult& result);

}  // namespace mintspread::reports
