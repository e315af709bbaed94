#pragma once

#include <cstdint>
#include <string>
#include <string_view>

#include "engine/study/result.hpp"

namespace mintspread::reports {

// How numbers are told to a person: no more digits than the uncertainty supports.

/// What stands in place of a number that does not exist.
inline constexpr std::string_view no_value = "undefined";

/// Decimal places at which a number with this uncertainty is told, so that the uncertainty shows two significant digits
/// (JCGM 100:2008, 7.2.6); negative places round to tens, hundreds. The uncertainty must be positive and finite.
int decimal_places(double uncertainty);

/// The number with that many decimal places; "undefined", "inf", "-inf" where it is not finite; never "-0".
std::string fixed(double value, int places);

/// At most `digits` significant digits, trailing zeros dropped, powers of ten below 1e-4 and from 1e7; for numbers
/// without an uncertainty.
std::string significant(double value, int digits = 6);

/// The shortest text that reads back as the same double; "undefined", "inf", "-inf" where it is not finite.
std::string shortest(double value);

/// A number of the result as a page carries it behind the digits it shows: eleven significant digits, more than any
/// figure shows, and two thirds of the length.
std::string carried(double value);

/// 1234567 as "1 234 567", with the separator given.
std::string count(std::uint64_t number, std::string_view separator = " ");

/// A figure as it is told: all parts at the same decimal place. Parts that do not exist are empty.
/// The interval and the band are rounded outwards: what is printed is never narrower than what was computed. A band
/// shows three digits of its half-width at most.
struct Told {
  std::string value;
  std::string half_width;  ///< larger side of the interval
  std::string lower, upper;
  std::string band_lower, band_upper;
  int places = 0;
};

/// A figure in the unit it is in; without an interval six significant digits.
Told told(const study::Figure& figure);

/// A fraction in per cent. Where no piece or every piece is in it the value is told from the interval ("> 99.9996"),
/// and no bound reads 0 or 100 unless it is exactly that. Without an interval `value` then says "none seen" or "all
/// seen"; an end of the band says "none" or "all".
Told told_percent(const study::Figure& fraction);

/// "99.873 %", "> 99.9996 %", "undefined".
std::string percent(const Told& fraction);

/// The sentence with blanks that no line breaks at: between a number and its unit or per cent sign, behind a sign that
/// belongs to the next number ("+/-", ">="), and inside a number ("262 144").
std::string unbroken(std::string_view sentence);

/// The number with its per cent sign; words ("undefined", "all") stay as they are.
std::string with_percent(const std::string& text);

/// As percent(), for a sentence: "more than 99.9996 %".
std::string percent_words(const Told& fraction);

/// "87.10 % and 99.64 %", "99.31 % and all": the band of a fraction, for a sentence.
std::string band_words(const Told& fraction);

/// A length in um below 0.1 mm, else in mm: "18 um", "1.478 mm".
std::string length(double metres, int digits = 4);

/// The power of a thousand that with_prefix tells a value in.
double prefix_scale(double value);
/// An SI number in the unit of its power of a thousand: 1.5e-5, "m" as "15 um". The unit must take prefixes.
std::string with_prefix(double value, std::string_view unit, int digits = 6);

}  // namespace mintspread::reports
