#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "specs/source.hpp"

namespace mintspread::specs {

/// One column of a table of measurements, in the order of the file and in the file's unit.
struct CsvColumn {
  std::vector<double> values;
  std::vector<At> places;    ///< of the values
  std::size_t empty = 0;     ///< cells left out because they hold nothing
  std::string heading_unit;  ///< what stands in brackets behind the name of the column; empty when nothing does
};

/// Fewest values that are taken for a distribution.
inline constexpr std::size_t fewest_values = 10;

/// Reads a column by its name from RFC 4180 text: commas, a heading line, fields in double quotes where they need them,
/// LF or CRLF. A heading "thickness [um]" or "thickness (um)" is also found as
/// "thickness". Empty cells are counted and left out. Decimal commas, text cells, numbers that are not finite, rows of
/// another length, columns that do not stand there or twice, and fewer than `fewest_values` values are findings;
/// `asked` is where the column was asked for, `path` by which quantity.
std::optional<CsvColumn> read_csv_column(const Source& source, const std::string& column, At asked,
                                         const std::string& path, Findings& findings);

}  // namespace mintspread::specs
