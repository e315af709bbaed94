#include "reports/numbers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::reports {

namespace {

std::string not_finite(double value) {
  if (std::isnan(value)) return std::string(no_value);
  return value > 0 ? "inf" : "-inf";
}

enum class Outwards { down, up };

// Rounds the decimal text away from the middle of the interval, with a guard against a last bit of rounding noise.
std::string outwards(double value, int places, Outwards direction) {
  if (!std::isfinite(value)) return not_finite(value);
  const double step = std::pow(10.0, -places);
  const double steps = value / step;
  const double nearest = std::round(steps);
  const bool whole = std::abs(steps - nearest) <= 1e-9 * std::max(1.0, std::abs(steps));
  const double rounded = whole ? nearest : (direction == Outwards::down ? std::floor(steps) : std::ceil(steps));
  return fixed(rounded * step, places);
}

// Places at which neither 0 nor 100 is printed for a per cent value that is neither.
int places_off_the_ends(double value, int places) {
  const double distance = std::min(std::abs(value), std::abs(100.0 - value));
  if (distance == 0.0 || !std::isfinite(value)) return places;
  return std::max(places, decimal_places(distance) - 1);
}

// Places for a band: three digits of its half-width, and no more than the figure itself is told to.
int band_places(const study::Band& band, double scale, int places) {
  const double half_width = 0.5 * scale * (band.upper - band.lower);
  if (!(half_width > 0.0) || !std::isfinite(half_width)) return places;
  return std::min(places, decimal_places(half_width) + 1);
}

}  // namespace

int decimal_places(double uncertainty) {
  expect(uncertainty > 0.0 && std::isfinite(uncertainty),
         "an uncertainty that decides on digits is positive and finite");
  const std::string text = fmt::format("{:.1e}", uncertainty);  // rounded first: 0.0996 is told as 0.10
  int exponent = 0;
  const std::size_t start = text.find('e') + (text[text.find('e') + 1] == '+' ? 2 : 1);
  std::from_chars(text.data() + start, text.data() + text.size(), exponent);
  return 1 - exponent;
}

std::string fixed(double value, int places) {
  if (!std::isfinite(value)) return not_finite(value);
  if (places < 0) {
    const double step = std::pow(10.0, -places);
    value = std::round(value / step) * step;
    places = 0;
  }
  std::string text = fmt::format("{:.{}f}", value, places);
  if (text.front() == '-' && text.find_first_not_of("-0.") == std::string::npos) text.erase(0, 1);
  return text;
}

std::string significant(double value, int digits) {
  if (!std::isfinite(value)) return not_finite(value);
  if (value == 0.0) return "0";
  const double size = std::abs(value);
  if (size >= 1e-4 && size < 1e7) {
    const int places = digits - 1 - static_cast<int>(std::floor(std::log10(size)));
    std::string text = fixed(value, places);
    if (text.find('.') != std::string::npos) {
      text.erase(text.find_last_not_of('0') + 1);
      if (text.back() == '.') text.pop_back();
    }
    return text;
  }
  return fmt::format("{:.{}g}", value, digits);
}

std::string shortest(double value) {
  if (!std::isfinite(value)) return not_finite(value);
  std::array<char, 32> buffer{};
  const auto end = std::to_chars(buffer.data(), buffer.data() + buffer.size(), value);
  return std::string(buffer.data(), end.ptr);
}

std::string carried(double value) { return std::isfinite(value) ? fmt::format("{:.11g}", value) : not_finite(value); }

std::string count(std::uint64_t number, std::string_view separator) {
  const std::string digits = std::to_string(number);
  std::string text;
  for (std::size_t i = 0; i < digits.size(); ++i) {
    if (i != 0 && (digits.size() - i) % 3 == 0) text += separator;
    text += digits[i];
  }
  return text;
}

Told told(const study::Figure& figure) {
  Told text;
  if (!std::isfinite(figure.value)) {
    text.value = not_finite(figure.value);
    return text;
  }
  const auto& interval = figure.interval;
  const bool bounded = interval && std::isfinite(interval->lower) && std::isfinite(interval->upper);
  const double half_width = bounded ? std::max(interval->upper - figure.value, figure.value - interval->lower) : 0.0;
  const bool decides = half_width > 0.0;
  if (decides) text.places = decimal_places(half_width);
  text.value = decides ? fixed(figure.value, text.places) : significant(figure.value);
  const auto bound = [&](double value, Outwards direction) {
    return decides ? outwards(value, text.places, direction) : significant(value);
  };
  if (bounded) text.half_width = decides ? outwards(half_width, text.places, Outwards::up) : "0";
  if (interval) {
    text.lower = bound(interval->lower, Outwards::down);
    text.upper = bound(interval->upper, Outwards::up);
  }
  if (figure.band) {
    const int places = band_places(*figure.band, 1.0, decides ? text.places : 12);
    const bool moves = figure.band->upper > figure.band->lower;
    text.band_lower =
        moves ? outwards(figure.band->lower, places, Outwards::down) : bound(figure.band->lower, Outwards::down);
    text.band_upper =
        moves ? outwards(figure.band->upper, places, Outwards::up) : bound(figure.band->upper, Outwards::up);
  }
  return text;
}

Told told_percent(const study::Figure& fraction) {
  Told text;
  if (!std::isfinite(fraction.value)) {
    text.value = not_finite(fraction.value);
    return text;
  }
  const double value = 100.0 * fraction.value;
  const bool end = fraction.value == 0.0 || fraction.value == 1.0;
  const auto bound = [](double bounded, int places, Outwards direction) -> std::string {
    if (bounded == 0.0) return "0";
    if (bounded == 100.0) return "100";
    return outwards(bounded, places_off_the_ends(bounded, places), direction);
  };
  if (fraction.interval) {
    const double lower = 100.0 * fraction.interval->lower, upper = 100.0 * fraction.interval->upper;
    // The nearer side decides: next to 0 or 100 the interval is lopsided and the farther side would hide the value.
    double side = upper - lower;
    if (value > lower) side = std::min(side, value - lower);
    if (upper > value) side = std::min(side, upper - value);
    text.places = side > 0.0 ? std::clamp(decimal_places(side), 0, 12) : 6;
    text.lower = bound(lower, text.places, Outwards::down);
    text.upper = bound(upper, text.places, Outwards::up);
    if (end && upper > lower) {
      text.value = fraction.value == 0.0 ? "< " + text.upper : "> " + text.lower;
    } else {
      text.half_width = outwards(std::max(upper - value, value - lower), text.places, Outwards::up);
    }
  } else {
    text.places = 4;
  }
  if (text.value.empty()) {
    if (end) {
      text.value = fraction.value == 0.0 ? "none seen" : "all seen";
    } else {
      text.value = fixed(value, places_off_the_ends(value, text.places));
    }
  }
  if (fraction.band) {
    const int places = band_places(*fraction.band, 100.0, text.places);
    const auto band = [&](double share, Outwards direction) -> std::string {
      if (share == 0.0) return "none";
      if (share == 1.0) return "all";
      return bound(100.0 * share, places, direction);
    };
    text.band_lower = band(fraction.band->lower, Outwards::down);
    text.band_upper = band(fraction.band->upper, Outwards::up);
  }
  return text;
}

std::string unbroken(std::string_view sentence) {
  static constexpr std::array<std::string_view, 44> units{
      "%",  "ppm", "um",  "µm",   "nm",   "mm",   "cm", "m",   "us", "µs", "ns", "ms",  "s",    "min",   "h",
      "Hz", "kHz", "MHz", "MS/m", "uohm", "mohm", "µΩ", "mΩ",  "Ω",  "kΩ", "nΩ", "ohm", "kohm", "uV",    "µV",
      "mV", "V",   "A",   "mA",   "degC", "°C",   "K",  "deg", "°",  "g",  "kg", "mg",  "sd",   "counts"};
  const auto digit = [&](std::size_t at) {
    return at < sentence.size() && std::isdigit(static_cast<unsigned char>(sentence[at])) != 0;
  };
  const auto letter = [](char c) {
    return std::isalpha(static_cast<unsigned char>(c)) != 0 || static_cast<unsigned char>(c) >= 0x80 || c == '%' ||
           c == '/';
  };
  std::string text;
  for (std::size_t i = 0; i < sentence.size(); ++i) {
    if (sentence[i] != ' ' || i == 0) {
      text += sentence[i];
      continue;
    }
    std::size_t end = i + 1;
    while (end < sentence.size() && letter(sentence[end])) ++end;
    const auto word = sentence.substr(i + 1, end - i - 1);
    const bool unit = digit(i - 1) && std::find(units.begin(), units.end(), word) != units.end();
    const bool thousands = digit(i - 1) && digit(i + 1) && digit(i + 2) && digit(i + 3) && !digit(i + 4);
    std::size_t start = i;
    while (start > 0 && sentence[start - 1] != ' ') --start;
    const auto before = sentence.substr(start, i - start);
    const bool sign = before == "+/-" || before == "±" || before == ">=" || before == "<=" || before == "<" ||
                      before == ">" || before == "×";
    text += thousands ? "\u202f" : unit || sign ? "\u00a0" : " ";
  }
  return text;
}

std::string with_percent(const std::string& text) {
  const bool number = !text.empty() && std::isdigit(static_cast<unsigned char>(text.back()));
  return number ? text + " %" : text;
}

std::string percent(const Told& fraction) { return with_percent(fraction.value); }

std::string percent_words(const Told& fraction) {
  std::string text = percent(fraction);
  if (text.compare(0, 2, "< ") == 0) text.replace(0, 2, "less than ");
  if (text.compare(0, 2, "> ") == 0) text.replace(0, 2, "more than ");
  return text;
}

std::string band_words(const Told& fraction) {
  return with_percent(fraction.band_lower) + " and " + with_percent(fraction.band_upper);
}

std::string length(double metres, int digits) {
  if (!std::isfinite(metres)) return not_finite(metres);
  return std::abs(metres) < 1e-4 ? significant(metres * 1e6, digits) + " um"
                                 : significant(metres * 1e3, digits) + " mm";
}

namespace {

int prefix_power(double value) {
  if (!std::isfinite(value) || value == 0.0) return 0;
  return std::clamp(3 * static_cast<int>(std::floor(std::log10(std::abs(value)) / 3.0 + 1e-9)), -12, 9);
}

}  // namespace

double prefix_scale(double value) { return std::pow(10.0, prefix_power(value)); }

std::string with_prefix(double value, std::string_view unit, int digits) {
  if (!std::isfinite(value)) return not_finite(value);
  static constexpr std::array<std::pair<int, const char*>, 8> prefixes{
      {{-12, "p"}, {-9, "n"}, {-6, "u"}, {-3, "m"}, {0, ""}, {3, "k"}, {6, "M"}, {9, "G"}}};
  const int power = prefix_power(value);
  const auto prefix = prefixes[static_cast<std::size_t>(power / 3 + 4)].second;
  return significant(value / std::pow(10.0, power), digits) + " " + prefix + std::string(unit);
}

}  // namespace mintspread::reports
