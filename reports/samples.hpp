#pragma once

#include <cstdint>
#include <span>
#include <string>

#include "engine/base/columns.hpp"
#include "engine/study/result.hpp"

namespace mintspread::reports {

// Samples of a run in files that other programs read: a header, then blocks of rows.

enum class SampleFormat {
  /// NumPy's array format (NEP 1; version 3.0 where a name is not ASCII): one record a piece, a little-endian double a
  /// column, named "skin [counts]".
  npy,
  /// RFC 4180 with a header line of the same names; the shortest text that reads back as the same double, empty for
  /// what
  /// does not exist.
  csv
};

std::string samples_header(SampleFormat format, std::span<const study::SampleColumn> columns, std::uint64_t rows);
std::string samples_rows(SampleFormat format, const Columns& values, std::size_t rows);

}  // namespace mintspread::reports
