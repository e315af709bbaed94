#include "reports/samples.hpp"

#include <algorithm>
#include <bit>
#include <cstring>
#include <vector>

#include "reports/csv_field.hpp"

namespace mintspread::reports {

namespace {

static_assert(std::endian::native == std::endian::little, "records are written as they stand in memory");

std::string title(const study::SampleColumn& column) {
  return column.unit.empty() ? column.name : column.name + " [" + column.unit + "]";
}

/// A text as Python writes it.
std::string python_text(const std::string& text) {
  std::string literal = "'";
  for (const char c : text) {
    if (c == '\\' || c == '\'') literal += '\\';
    literal += c;
  }
  return literal + "'";
}

std::string npy_header(std::span<const study::SampleColumn> columns, std::uint64_t rows) {
  std::string names;
  std::vector<std::string> taken;
  for (const auto& column : columns) {
    // Fields of a record need names of their own.
    std::string name = title(column);
    for (int more = 2; std::ranges::find(taken, name) != taken.end(); ++more) {
      name = title(column) + " " + std::to_string(more);
    }
    taken.push_back(name);
    names += "(" + python_text(name) + ", '<f8'), ";
  }
  std::string text = "{'descr': [" + names + "], 'fortran_order': False, 'shape': (" + std::to_string(rows) + ",), }";
  const bool ascii = std::ranges::all_of(text, [](unsigned char c) { return c < 0x80; });
  constexpr std::size_t prefix = 12, alignment = 64;
  text.append(alignment - 1 - (prefix + text.size()) % alignment, ' ');
  text += '\n';
  std::string header = std::string("\x93NUMPY") + (ascii ? '\2' : '\3') + '\0';
  for (int byte = 0; byte < 4; ++byte) header += static_cast<char>(text.size() >> (8 * byte) & 0xffU);
  return header + text;
}

}  // namespace

std::string samples_header(SampleFormat format, std::span<const study::SampleColumn> columns, std::uint64_t rows) {
  if (format == SampleFormat::npy) return npy_header(columns, rows);
  std::string line;
  for (const auto& column : columns) line += (line.empty() ? "" : ",") + csv_text(title(column));
  return line + "\r\n";
}

std::string samples_rows(SampleFormat format, const Columns& values, std::size_t rows) {
  if (format == SampleFormat::npy) {
    std::string bytes(rows * values.count() * sizeof(double), '\0');
    for (std::size_t c = 0; c < values.count(); ++c) {
      const auto column = values[c];
      for (std::size_t row = 0; row < rows; ++row) {
        std::memcpy(&bytes[(row * values.count() + c) * sizeof(double)], &column[row], sizeof(double));
      }
    }
    return bytes;
  }
  std::string text;
  for (std::size_t row = 0; row < rows; ++row) {
    for (std::size_t c = 0; c < values.count(); ++c) {
      if (c > 0) text += ',';
      text += csv_number(values[c][row]);
    }
    text += "\r\n";
  }
  return text;
}

}  // namespace mintspread::reports
