#pragma once

#include <cstdint>
#include <functional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/study/study.hpp"

namespace mintspread::study {

/// What for_each_sample() tells of every piece: the inputs that vary (at their paths), the side that is up where the
/// slot takes either (1 obverse, 0 reverse), the readings of all channels, the relations of all window sets, the number
/// of the sort that scrapped it where the route sorts (from 1; 0: none), and whether each machine class accepts it (1
/// or 0). Scrapped pieces have no readings.
std::vector<SampleColumn> sample_columns(const Study& study);

/// Draws the pieces of a run again, those of run() with the same options after `pieces` came out as its number, and
/// hands them on in their order: blocks of rows are encoded by several threads and written by this one. Column = sample
/// column, NaN where a piece could not be made or a value does not exist. Memory does not grow with the pieces. Uses
/// the seed, points, threads, progress and stop of the options.
void for_each_sample(const Study& study, const RunOptions& options, std::uint64_t pieces,
                     const std::function<std::string(const Columns& values, std::size_t rows)>& encode,
                     const std::function<void(std::string_view)>& write);

}  // namespace mintspread::study
