#include "specs/diagnostic.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string_view>

namespace mintspread::specs {

namespace {

constexpr std::size_t shown_columns = 160;

/// The characters of `text`, control characters and broken bytes replaced, so that a file cannot steer the terminal.
std::vector<std::string> shown(std::string_view text) {
  std::vector<std::string> all;
  for (std::size_t i = 0; i < text.size();) {
    const auto lead = static_cast<unsigned char>(text[i]);
    const std::size_t length = lead < 0x80                   ? 1
                               : lead >= 0xC2 && lead < 0xE0 ? 2
                               : lead >= 0xE0 && lead < 0xF0 ? 3
                               : lead >= 0xF0 && lead < 0xF5 ? 4
                                                             : 0;
    const bool control = lead < 0x20 || lead == 0x7F ||
                         (lead == 0xC2 && i + 1 < text.size() && static_cast<unsigned char>(text[i + 1]) < 0xA0);
    if (lead == '\t')
      all.emplace_back(" ");
    else if (length == 0 || control || i + length > text.size())
      all.emplace_back("\uFFFD");
    else
      all.emplace_back(text.substr(i, length));
    i += std::max<std::size_t>(length, 1);
  }
  return all;
}

std::string joined(std::string_view text) {
  std::string all;
  for (const std::string& character : shown(text)) all += character;
  return all;
}

void full_stop(std::string& text) {
  if (!text.empty() && std::string_view(".!?").find(text.back()) == std::string_view::npos) text += '.';
}

}  // namespace

std::string render(const Diagnostic& d, Colour colour) {
  const bool ansi = colour == Colour::ansi;
  const bool error = d.severity == Severity::error;
  std::string where = joined(d.place.file);
  if (d.place.line > 0) where += fmt::format(":{}", d.place.line);
  if (d.place.line > 0 && d.place.column > 0) where += fmt::format(":{}", d.place.column);
  std::string sentence = joined(d.path.empty() ? d.what : d.path + ": " + d.what);
  full_stop(sentence);
  std::string remedy = joined(d.remedy);
  full_stop(remedy);
  std::string out = fmt::format("{}{}:{} {}{}:{} {}", ansi ? "\x1b[1m" : "", where, ansi ? "\x1b[0m" : "",
                                ansi ? (error ? "\x1b[1;31m" : "\x1b[1;35m") : "", error ? "error" : "warning",
                                ansi ? "\x1b[0m" : "", sentence);
  if (!remedy.empty()) out += " " + remedy;
  out += '\n';
  if (d.place.line == 0 || d.source_line.empty()) return out;

  const std::vector<std::string> line = shown(d.source_line);
  const std::size_t caret =
      std::min<std::size_t>(d.place.column > 0 ? static_cast<std::size_t>(d.place.column) - 1 : 0, line.size());
  const std::size_t begin = line.size() <= shown_columns || caret < shown_columns / 2
                                ? 0
                                : std::min(caret - shown_columns / 2, line.size() - shown_columns);
  const std::size_t end = std::min(begin + shown_columns, line.size());
  std::string text;
  for (std::size_t i = begin; i < end; ++i) text += line[i];
  const std::string head = fmt::format("{:5} | ", d.place.line), lead = begin > 0 ? "..." : "";
  out += fmt::format("{}{}{}{}\n", head, lead, text, end < line.size() ? "..." : "");
  out += fmt::format("{:>{}}{}^{}\n", "| ", head.size(),
                     std::string(lead.size() + caret - begin, ' ') + (ansi ? "\x1b[1;32m" : ""), ansi ? "\x1b[0m" : "");
  return out;
}

}  // namespace mintspread::specs
