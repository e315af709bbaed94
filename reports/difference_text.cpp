#include <cmath>
#include <string>

#include "reports/numbers.hpp"
#include "reports/paper.hpp"
#include "reports/text.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

// "changed", "no change seen": whether the interval of the difference holds zero.
std::string change_word(const Figure& difference) {
  if (!std::isfinite(difference.value)) return std::string(no_value);
  if (!difference.interval) return "";
  if (difference.interval->lower > 0.0) return "up";
  if (difference.interval->upper < 0.0) return "down";
  return "no change seen";
}

std::string signed_number(const std::string& text) {
  return text.empty() || text.front() == '-' || !std::isdigit(static_cast<unsigned char>(text.front())) ? text
                                                                                                        : "+" + text;
}

void add_row(TextTable& table, const std::string& subject, const std::string& figure, const std::string& unit,
             double scale, const Change& change) {
  Figure difference{scale * change.difference.value, {}, {}};
  if (change.difference.interval) {
    difference.interval =
        Interval{scale * change.difference.interval->lower, scale * change.difference.interval->upper};
  }
  const Told text = told(difference);
  const auto value = [&](double number) {
    return text.half_width.empty() || text.half_width == "0" ? significant(scale * number)
                                                             : fixed(scale * number, text.places);
  };
  table.rows.push_back({subject, figure, unit, value(change.first), value(change.second), signed_number(text.value),
                        text.lower.empty() ? "" : text.lower + " .. " + text.upper, change_word(change.difference)});
}

}  // namespace

std::string difference_text(const Comparison& comparison, const TextOptions& options) {
  Paper paper(options);
  paper.paragraph("A  " + comparison.first, Tone::strong);
  paper.paragraph("B  " + comparison.second, Tone::strong);
  paper.heading("From A to B", "95 % interval of the difference; both drawn with common numbers");
  TextTable table{{{"of", Align::left},
                   {"figure", Align::left},
                   {"unit", Align::left},
                   {"A"},
                   {"B"},
                   {"B less A"},
                   {"interval"},
                   {"", Align::left}},
                  2,
                  {}};
  for (const auto& window : comparison.windows)
    add_row(table, window.machine_class, "accepted", "%", 100.0, window.accepted);
  for (const auto& channel : comparison.channels) {
    add_row(table, channel.name, "mean", channel.unit, 1.0, channel.mean);
    add_row(table, "", "sd", channel.unit, 1.0, channel.sd);
  }
  if (!table.rows.empty()) paper.table(table);
  if (table.rows.empty())
    paper.paragraph("The two have no channel and no machine class in common.", Tone::doubtful, 2, 2);
  paper.heading("Notes");
  if (!comparison.only_first.empty())
    paper.paragraph("Only A has " + list_of(comparison.only_first) + ".", Tone::plain, 2, 2);
  if (!comparison.only_second.empty())
    paper.paragraph("Only B has " + list_of(comparison.only_second) + ".", Tone::plain, 2, 2);
  paper.paragraph(count(comparison.pieces) + " pieces each, seed " + std::to_string(comparison.seed) +
                      (comparison.method.empty() ? "" : "; " + comparison.method) + ".",
                  Tone::plain, 2, 2);
  return paper.take();
}

}  // namespace mintspread::reports
