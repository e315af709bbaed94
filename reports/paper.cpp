#include "reports/paper.hpp"

#include <algorithm>

namespace mintspread::reports {

namespace {

constexpr std::size_t narrowest = 60;
constexpr std::string_view between = "  ";

std::string clean(std::string_view text) {
  std::string safe(text);
  for (char& c : safe) {
    if (static_cast<unsigned char>(c) < 0x20 || c == 0x7f) c = c == '\n' || c == '\t' ? ' ' : '?';
  }
  // C1 control characters are U+0080 to U+009F: C2 80 to C2 9F in UTF-8.
  for (std::size_t i = 0; i + 1 < safe.size(); ++i) {
    if (static_cast<unsigned char>(safe[i]) == 0xc2 && static_cast<unsigned char>(safe[i + 1]) < 0xa0)
      safe.replace(i, 2, "?");
  }
  return safe;
}

std::vector<std::string> wrapped(std::string_view text, std::size_t first_width, std::size_t width) {
  std::vector<std::string> lines(1);
  std::size_t start = 0;
  while (start < text.size()) {
    const std::size_t end = std::min(text.find(' ', start), text.size());
    const std::string_view word = text.substr(start, end - start);
    start = end + 1;
    if (word.empty()) continue;
    const std::size_t room = lines.size() == 1 ? first_width : width;
    if (!lines.back().empty() && columns_of(lines.back()) + 1 + columns_of(word) > room) lines.emplace_back();
    if (!lines.back().empty()) lines.back() += ' ';
    lines.back() += word;
  }
  return lines;
}

std::string padded(std::string_view text, std::size_t width, Align align) {
  const std::size_t used = columns_of(text);
  const std::string blanks(width > used ? width - used : 0, ' ');
  return align == Align::left ? std::string(text) + blanks : blanks + std::string(text);
}

void drop_blanks_at_end(std::string& text) { text.erase(text.find_last_not_of(' ') + 1); }

// Width of column c, or of the whole stretch from c to the next place to break when c begins one.
std::size_t width_to_next_break(const TextTable& table, const std::vector<std::size_t>& widths, std::size_t c) {
  std::size_t width = widths[c];
  if (!table.columns[c].apart) return width;
  for (std::size_t next = c + 1; next < widths.size() && !table.columns[next].apart; ++next)
    width += between.size() + widths[next];
  return width;
}

}  // namespace

std::size_t columns_of(std::string_view text) {
  return static_cast<std::size_t>(
      std::count_if(text.begin(), text.end(), [](char c) { return (static_cast<unsigned char>(c) & 0xc0) != 0x80; }));
}

Paper::Paper(const TextOptions& options) : width_(std::max(options.width, narrowest)), colour_(options.colour) {}

std::string Paper::toned(std::string text, Tone tone) const {
  if (!colour_ || text.empty()) return text;
  const char* code = "";
  switch (tone) {
    case Tone::plain:
      return text;
    case Tone::strong:
      code = "\x1b[1m";
      break;
    case Tone::good:
      code = "\x1b[32m";
      break;
    case Tone::bad:
      code = "\x1b[31m";
      break;
    case Tone::doubtful:
      code = "\x1b[33m";
      break;
  }
  return code + std::move(text) + "\x1b[0m";
}

void Paper::gap() { text_ += "\n"; }

void Paper::heading(std::string_view text, std::string_view aside) {
  if (!text_.empty()) gap();
  const std::string safe = clean(text), beside = clean(aside);
  text_ += toned(safe, Tone::strong);
  const bool fits = columns_of(safe) + 2 + columns_of(beside) <= width_;
  if (fits && !beside.empty()) text_ += "  " + beside;
  gap();
  if (!fits) paragraph(beside, Tone::plain, 2);
}

void Paper::paragraph(std::string_view text, Tone tone, std::size_t indent, std::size_t hanging) {
  const auto lines = wrapped(clean(text), width_ - indent, width_ - indent - hanging);
  for (std::size_t i = 0; i < lines.size(); ++i) {
    text_ += std::string(indent + (i == 0 ? 0 : hanging), ' ') + toned(lines[i], tone) + "\n";
  }
}

void Paper::unbroken(std::string_view text, std::size_t indent) {
  text_ += std::string(indent, ' ') + clean(text) + "\n";
}

void Paper::part(const TextTable& table, const std::vector<std::size_t>& shown, const std::vector<std::size_t>& widths,
                 std::size_t indent) {
  std::size_t before_last = indent;
  for (const std::size_t c : shown) before_last += widths[c] + between.size();
  before_last -= widths[shown.back()] + between.size();
  const auto row_text = [&](const std::vector<std::string>& row, Tone tone) {
    // A second line of a row may have nothing to say in this part.
    if (std::all_of(shown.begin(), shown.end(), [&](std::size_t c) { return c >= row.size() || row[c].empty(); }))
      return;
    std::string line(indent, ' ');
    std::vector<std::string> rest;
    for (const std::size_t c : shown) {
      const TextColumn& column = table.columns[c];
      std::string cell = c < row.size() ? clean(row[c]) : "";
      if (column.wrap) {
        const auto lines = wrapped(cell, width_ - before_last, width_ - before_last);
        cell = lines.front();
        rest.assign(lines.begin() + 1, lines.end());
        line += cell + std::string(between);
      } else {
        line += padded(cell, widths[c], column.align) + std::string(between);
      }
    }
    drop_blanks_at_end(line);
    text_ += toned(line, tone) + "\n";
    for (const auto& more : rest) text_ += std::string(before_last, ' ') + more + "\n";
  };
  std::vector<std::string> headings;
  for (const auto& column : table.columns) headings.push_back(column.heading);
  row_text(headings, Tone::strong);
  for (const auto& row : table.rows) row_text(row, Tone::plain);
}

void Paper::table(const TextTable& table, std::size_t indent) {
  constexpr std::size_t least_for_wrapped = 24;
  std::vector<std::size_t> widths;
  for (std::size_t c = 0; c < table.columns.size(); ++c) {
    std::size_t width = columns_of(table.columns[c].heading);
    if (table.columns[c].wrap) width = std::max(width, least_for_wrapped);
    for (const auto& row : table.rows) {
      if (c < row.size() && !table.columns[c].wrap) width = std::max(width, columns_of(row[c]));
    }
    widths.push_back(width);
  }
  std::vector<std::size_t> keys;
  std::size_t key_width = indent;
  for (std::size_t c = 0; c < table.keys; ++c) {
    keys.push_back(c);
    key_width += widths[c] + between.size();
  }
  for (std::size_t c = table.keys; c < table.columns.size();) {
    std::vector<std::size_t> shown = keys;
    std::size_t used = key_width;
    do {
      shown.push_back(c);
      used += widths[c] + between.size();
      ++c;
    } while (c < table.columns.size() && used + width_to_next_break(table, widths, c) <= width_);
    part(table, shown, widths, indent);
    if (c < table.columns.size()) gap();
  }
}

}  // namespace mintspread::reports
