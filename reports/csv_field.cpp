#include "reports/csv_field.hpp"

#include <cmath>

#include "reports/numbers.hpp"

namespace mintspread::reports {

std::string csv_text(std::string_view text) {
  std::string field;
  if (!text.empty() && std::string_view("=+-@\t\r").find(text.front()) != std::string_view::npos) field += '\'';
  field += text;
  if (field.find_first_of(",\"\r\n") == std::string::npos) return field;
  std::string quoted = "\"";
  for (const char c : field) {
    if (c == '"') quoted += '"';
    quoted += c;
  }
  return quoted + "\"";
}

std::string csv_number(double value) { return std::isnan(value) ? std::string() : shortest(value); }

}  // namespace mintspread::reports
