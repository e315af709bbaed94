#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <variant>

namespace mintspread::specs {

/// Why a text is not what it should be, and at which byte of it.
struct TextFault {
  std::size_t at;
  std::string what, remedy;
};

/// A number at the beginning of a text, and how many bytes it takes.
struct NumberText {
  double value;
  std::size_t length;
};

/// Reads the number `text` begins with: an optional sign, decimal digits with a decimal point, an exponent. Infinity,
/// nan, decimal commas, digit groups, leading zeros and values a double cannot hold are faults. What follows the number
/// is the caller's.
std::variant<NumberText, TextFault> leading_number(std::string_view text);

/// A text that is a number and nothing else.
std::variant<double, TextFault> whole_number_text(std::string_view text);

/// A count: a whole number from 1 to 2^53, "600000" or "6e5".
std::variant<std::size_t, TextFault> count_text(std::string_view text);

std::string_view trimmed(std::string_view text);

/// Runs of blanks and line ends as one blank, none at the ends.
std::string single_blanks(std::string_view text);

}  // namespace mintspread::specs
