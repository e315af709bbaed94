#include "specs/number.hpp"

#include <charconv>
#include <cmath>
#include <optional>
#include <system_error>

namespace mintspread::specs {

namespace {

constexpr std::string_view blanks = " \t\r\n";
constexpr std::string_view minus_signs[] = {"\u2212", "\u2013", "\u2010", "\u2011"};

bool digit(char c) { return c >= '0' && c <= '9'; }

std::string quoted(std::string_view text) {
  constexpr std::size_t most = 40;
  std::size_t end = std::min(text.size(), most);
  while (end > 0 && end < text.size() && (static_cast<unsigned char>(text[end]) & 0xC0u) == 0x80u) --end;
  return "`" + std::string(text.substr(0, end)) + (end < text.size() ? "...`" : "`");
}

/// Digits, commas, points and blanks that follow a number make no second number but show how the user writes numbers.
std::optional<TextFault> foreign_notation(std::string_view text, std::size_t end) {
  if (end + 1 >= text.size()) return std::nullopt;
  const char here = text[end], next = text[end + 1];
  if (here == ',' && digit(next)) {
    std::string mended(text.substr(0, text.find_first_not_of("0123456789", end + 1)));
    mended[end] = '.';
    return TextFault{end, "a comma stands in the number, which is no decimal point here",
                     "Write " + quoted(mended) + ", and large numbers without separators."};
  }
  if ((here == '_' || here == '\'' || here == '.') && digit(next))
    return TextFault{end, "the number goes on in a way that cannot be read",
                     "Write digits with one decimal point and no separators."};
  if (here == ' ' && digit(next) && text.find_first_not_of("0123456789", end + 1) - (end + 1) >= 3)
    return TextFault{end, "a blank stands between the digits of the number", "Write large numbers without separators."};
  return std::nullopt;
}

}  // namespace

std::string_view trimmed(std::string_view text) {
  const std::size_t first = text.find_first_not_of(blanks);
  return first == std::string_view::npos ? std::string_view{}
                                         : text.substr(first, text.find_last_not_of(blanks) + 1 - first);
}

std::string single_blanks(std::string_view text) {
  std::string out;
  for (std::size_t i = text.find_first_not_of(blanks); i < text.size(); i = text.find_first_not_of(blanks, i)) {
    const std::size_t end = std::min(text.find_first_of(blanks, i), text.size());
    if (!out.empty()) out += ' ';
    out += text.substr(i, end - i);
    i = end;
  }
  return out;
}

std::variant<NumberText, TextFault> leading_number(std::string_view text) {
  for (std::string_view sign : minus_signs)
    if (text.starts_with(sign)) return TextFault{0, "this minus sign is a typographic one", "Write it as `-`."};
  const std::size_t sign = !text.empty() && (text[0] == '+' || text[0] == '-') ? 1 : 0;
  const std::string_view digits = text.substr(sign);
  if (digits.starts_with(".inf") || digits.starts_with(".nan") || digits.starts_with(".Inf") ||
      digits.starts_with(".INF") || digits.starts_with(".NaN") || digits.starts_with("inf") ||
      digits.starts_with("nan"))
    return TextFault{0, quoted(text) + " is not a finite number", ""};
  const bool starts =
      !digits.empty() && (digit(digits[0]) || (digits[0] == '.' && digits.size() > 1 && digit(digits[1])));
  if (!starts) {
    if (!digits.empty() && digits[0] == ',' && digits.size() > 1 && digit(digits[1]))
      return TextFault{sign, "a comma stands in the number, which is no decimal point here",
                       "Write " + quoted("0." + std::string(digits.substr(1))) + "."};
    return TextFault{0, text.empty() ? "a number is missing" : quoted(text) + " is not a number", ""};
  }
  if (digits[0] == '0' && digits.size() > 1 && digit(digits[1]))
    return TextFault{0, "the number has leading zeros, which some programs read as octal", "Leave them out."};
  double value = 0;
  const char* begin = text.data() + (text[0] == '+' ? 1 : 0);
  const auto [end, status] = std::from_chars(begin, text.data() + text.size(), value);
  const auto length = static_cast<std::size_t>(end - text.data());
  if (status != std::errc{})
    return TextFault{
        0, quoted(text.substr(0, std::max<std::size_t>(length, 1))) + " is too large or too small for a number", ""};
  if (auto foreign = foreign_notation(text, length)) return *foreign;
  return NumberText{value, length};
}

std::variant<double, TextFault> whole_number_text(std::string_view text) {
  const std::string_view inner = trimmed(text);
  const std::size_t shift = inner.empty() ? 0 : static_cast<std::size_t>(inner.data() - text.data());
  auto number = leading_number(inner);
  if (auto* fault = std::get_if<TextFault>(&number)) {
    fault->at += shift;
    return *fault;
  }
  const auto [value, length] = std::get<NumberText>(number);
  if (length != inner.size())
    return TextFault{shift + length,
                     quoted(trimmed(inner.substr(length))) + " follows the number, but only a number is read here",
                     "Leave it out."};
  return value;
}

std::variant<std::size_t, TextFault> count_text(std::string_view text) {
  const auto number = whole_number_text(text);
  if (const auto* fault = std::get_if<TextFault>(&number)) return *fault;
  const double value = std::get<double>(number);
  if (!(value >= 1) || value > 9007199254740992.0 || value != std::floor(value))
    return TextFault{0, "a count is a whole number of 1 or more", ""};
  return static_cast<std::size_t>(value);
}

}  // namespace mintspread::specs
