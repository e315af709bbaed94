#pragma once

#include <cstddef>
#include <cstdint>
#include <functional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "specs/diagnostic.hpp"

namespace mintspread::specs {

// Tables of measurements for fitting, read row by row: what is kept does not grow with the file. (Columns that drive a
// specification are read by csv.hpp.)

/// One cell of a measured column.
struct Reading {
  enum class Kind { gap, value, below, above };  ///< below: `< 0.5`, the value lies below what could be read
  Kind kind = Kind::gap;
  double value = 0.0;
};

/// What a column was found to be.
struct ReadColumn {
  std::string name;                  ///< without the unit in brackets
  std::string unit;                  ///< in brackets behind the name; empty when there is none
  std::uint64_t gaps = 0;            ///< empty cells, and `NA`, `n/a`, `nan`, `-`
  std::uint64_t words_for_gaps = 0;  ///< of them, those that are not empty
  int decimals = 0;                  ///< most decimal places written; negative for 1e3
};

struct ReadTable {
  std::vector<ReadColumn> columns;  ///< in the order asked for
  std::uint64_t rows = 0;
  std::uint64_t without_group = 0;  ///< rows with an empty group cell
  char separator = ',';
  bool decimal_commas = false;
  std::vector<Diagnostic> warnings;
};

/// Called for every row: the readings in the order of the columns asked for, the texts of the group columns.
using RowTaker = std::function<void(std::span<const Reading>, std::span<const std::string_view>)>;

/// Reads a text table with a heading line: fields separated by commas (RFC 4180), semicolons or tabs, whichever the
/// heading shows, in double quotes where they need them; LF or CRLF. Decimal commas are taken where fields are not
/// separated by commas. Without `columns`, the only column of the table is taken; without `take`, the heading alone is
/// read. Text cells, numbers that are not finite, rows of another length, columns that do not stand there or twice,
/// bytes that are no UTF-8 and a file that cannot be read throw RejectedSpecification, all problems at once, the first
/// ten of a kind one by one.
ReadTable read_measurements(const std::string& file, const std::vector<std::string>& columns,
                            const std::vector<std::string>& groups, const RowTaker& take);

}  // namespace mintspread::specs
