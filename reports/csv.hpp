#pragma once

#include <string>

#include "engine/study/result.hpp"

namespace mintspread::reports {

/// One figure a line (RFC 4180, CRLF, UTF-8), with a heading line:
/// coin, subject kind, subject, figure, value, lower, upper, band lower, band upper, unit, note.
/// Inputs are told in the unit of the specification. An undefined number is an empty field; infinite limits are "inf",
/// "-inf". A text field that a spreadsheet would take for a formula (it begins with = + - @, tab or carriage return)
/// begins with an apostrophe instead; numbers are never touched.
std::string result_csv(const study::Result& result);

}  // namespace mintspread::reports
