#pragma once

#include <string>
#include <string_view>

namespace mintspread::reports {

/// A text as a field of a CSV file (RFC 4180), quoted where it has to be. One that a spreadsheet would run as a
/// formula, such as "=1+1", gets an apostrophe in front, which makes it text there and stays visible elsewhere.
std::string csv_text(std::string_view text);

/// The shortest text that reads back as the same double; empty for NaN.
std::string csv_number(double value);

}  // namespace mintspread::reports
