#include "tools/program/precision_text.hpp"

#include <charconv>
#include <cmath>
#include <string_view>
#include <utility>

#include "tools/program/command_line.hpp"

namespace mintspread::program {
namespace {

[[noreturn]] void refuse(const std::string& text, const std::string& why) {
  throw UsageError("--until '" + text + "': " + why);
}

std::string_view trimmed(std::string_view text) {
  while (text.starts_with(' ')) text.remove_prefix(1);
  while (text.ends_with(' ')) text.remove_suffix(1);
  return text;
}

/// The number a text begins with, and the rest; NaN where there is none.
std::pair<double, std::string_view> number_and_rest(std::string_view text) {
  double value = 0.0;
  const auto [rest, error] = std::from_chars(text.data(), text.data() + text.size(), value);
  if (error != std::errc()) return {std::nan(""), text};
  return {value, trimmed(text.substr(static_cast<std::size_t>(rest - text.data())))};
}

/// `text` without `words` in front of it.
bool take(std::string_view& text, std::string_view words) {
  if (!text.starts_with(words)) return false;
  text = trimmed(text.substr(words.size()));
  return true;
}

}  // namespace

study::Precision read_precision(const std::string& text) {
  using Of = study::Precision::Of;
  const auto sign = text.find("+/-");
  if (sign == std::string::npos) refuse(text, "a figure, '+/-' and a half-width are expected: 'accepted +/- 0.01 %'");
  std::string_view figure = trimmed(std::string_view(text).substr(0, sign));
  const auto [width, unit] = number_and_rest(trimmed(std::string_view(text).substr(sign + 3)));
  if (!(width > 0.0) || !std::isfinite(width)) refuse(text, "the half-width has to be a positive number");

  study::Precision precision;
  precision.half_width = width;
  precision.unit = unit;
  if (figure == "accepted" || take(figure, "accepted by ")) {
    precision.name = figure == "accepted" ? "" : figure;
    if (unit != "%") refuse(text, "a fraction accepted takes its half-width in %");
    if (width >= 100.0) refuse(text, "a half-width of 100 % or more asks for nothing");
    precision.half_width = width / 100.0;
    return precision;
  }
  if (take(figure, "mean of ")) {
    precision.of = Of::mean;
  } else if (take(figure, "sd of ")) {
    precision.of = Of::sd;
  } else if (take(figure, "median of ")) {
    precision.of = Of::median;
  } else {
    const auto [probability, rest] = number_and_rest(figure);
    figure = rest;
    if (!std::isfinite(probability) || !take(figure, "%") || !take(figure, "quantile of ")) {
      refuse(text,
             "the figures are 'accepted', 'accepted by CLASS', and 'mean', 'sd', 'median' and '99.865 % quantile' 'of "
             "CHANNEL'");
    }
    precision.of = Of::quantile;
    precision.probability = probability / 100.0;
  }
  precision.name = figure;
  return precision;
}

}  // namespace mintspread::program
