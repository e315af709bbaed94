#include "specs/csv.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "specs/context.hpp"
#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t most_rows = 1'000'000;
constexpr std::size_t most_cell_errors = 10;

struct Field {
  std::string text;
  std::size_t at;
  bool quoted;
};

/// Walks RFC 4180 text record by record.
class Records {
 public:
  Records(const Source& source, Findings& findings, const std::string& path)
      : source_(source), text_(source.text()), findings_(findings), path_(path) {}

  bool more() const { return !broken_ && next_ < text_.size(); }
  bool broken() const { return broken_; }

  std::vector<Field> record() {
    std::vector<Field> fields;
    while (true) {
      fields.push_back(field());
      if (broken_ || next_ >= text_.size()) return fields;
      if (text_[next_] == ',') {
        ++next_;
        continue;
      }
      if (text_[next_] == '\r') ++next_;
      if (next_ < text_.size() && text_[next_] == '\n') ++next_;
      return fields;
    }
  }

 private:
  Field field() {
    Field field{"", next_, next_ < text_.size() && text_[next_] == '"'};
    if (!field.quoted) {
      const std::size_t end = std::min(text_.find_first_of(",\r\n", next_), text_.size());
      field.text = text_.substr(next_, end - next_);
      next_ = end;
      return field;
    }
    for (++next_; next_ < text_.size(); ++next_) {
      if (text_[next_] != '"') {
        field.text += text_[next_];
      } else if (next_ + 1 < text_.size() && text_[next_ + 1] == '"') {
        field.text += '"';
        ++next_;
      } else {
        ++next_;
        if (next_ < text_.size() && std::string_view(",\r\n").find(text_[next_]) == std::string_view::npos)
          fail(next_, "text follows the closing quote of this field", "Double the quotes inside of a quoted field.");
        return field;
      }
    }
    fail(field.at, "the quote that opens here is never closed", "");
    return field;
  }
  void fail(std::size_t at, const char* what, const char* remedy) {
    findings_.error({&source_, at}, path_, what, remedy);
    broken_ = true;
  }

  const Source& source_;
  std::string_view text_;
  Findings& findings_;
  const std::string& path_;
  std::size_t next_ = 0;
  bool broken_ = false;
};

/// A heading without the unit in brackets behind it, and that unit.
std::pair<std::string, std::string> without_unit(std::string_view heading) {
  heading = trimmed(heading);
  if (heading.empty() || (heading.back() != ']' && heading.back() != ')')) return {std::string(heading), ""};
  const std::size_t open = heading.rfind(heading.back() == ']' ? '[' : '(');
  if (open == std::string_view::npos || open == 0) return {std::string(heading), ""};
  return {std::string(trimmed(heading.substr(0, open))),
          std::string(trimmed(heading.substr(open + 1, heading.size() - open - 2)))};
}

std::optional<std::size_t> find_column(const std::vector<Field>& heading, const std::string& column, At asked,
                                       const std::string& path, Findings& findings) {
  std::vector<std::string> names, bare;
  for (const Field& field : heading) {
    names.emplace_back(trimmed(field.text));
    bare.push_back(without_unit(field.text).first);
  }
  for (const auto* known : {&names, &bare}) {
    const auto found = std::find(known->begin(), known->end(), column);
    if (found == known->end()) continue;
    if (std::find(found + 1, known->end(), column) != known->end()) {
      findings.error(asked, path, fmt::format("the column `{}` stands twice in the heading of the table", column),
                     "Give the columns different names.");
      return std::nullopt;
    }
    return static_cast<std::size_t>(found - known->begin());
  }
  const bool semicolons = heading.size() == 1 && heading[0].text.find(';') != std::string::npos;
  findings.error(asked, path, fmt::format("the table has no column `{}`", column),
                 semicolons ? "Its fields are separated by semicolons; write it with commas and decimal points."
                            : suggest(column, bare));
  return std::nullopt;
}

void read_cell(const Field& field, const Source& source, const std::string& path, Findings& findings, CsvColumn& out,
               std::size_t& errors) {
  if (trimmed(field.text).empty()) {
    ++out.empty;
    return;
  }
  const auto number = whole_number_text(field.text);
  if (const auto* fault = std::get_if<TextFault>(&number)) {
    if (++errors <= most_cell_errors)
      findings.error({&source, field.at + (field.quoted ? 1 : 0) + fault->at}, path,
                     "a cell of the measured column is no number: " + fault->what,
                     fault->remedy.empty() ? "Leave a cell empty where nothing was measured." : fault->remedy);
    return;
  }
  out.values.push_back(std::get<double>(number));
  out.places.push_back({&source, field.at});
}

}  // namespace

std::optional<CsvColumn> read_csv_column(const Source& source, const std::string& column, At asked,
                                         const std::string& path, Findings& findings) {
  const std::size_t before = findings.errors();
  if (const std::size_t bad = first_invalid_utf8(source.text()); bad != std::string::npos) {
    findings.error({&source, bad}, path, "this byte is not UTF-8 text", "Save the table as UTF-8.");
    return std::nullopt;
  }
  Records records(source, findings, path);
  if (!records.more()) {
    findings.error({&source, 0}, path, "the table is empty", "");
    return std::nullopt;
  }
  const std::vector<Field> heading = records.record();
  if (records.broken()) return std::nullopt;
  const auto position = find_column(heading, column, asked, path, findings);
  if (!position) return std::nullopt;

  CsvColumn out;
  out.heading_unit = without_unit(heading[*position].text).second;
  std::size_t cell_errors = 0, rows = 0;
  while (records.more()) {
    const std::vector<Field> record = records.record();
    if (records.broken()) return std::nullopt;
    if (record.size() == 1 && trimmed(record[0].text).empty()) {
      if (heading.size() == 1 && records.more()) ++out.empty;
      continue;
    }
    if (++rows > most_rows) {
      findings.error({&source, record[0].at}, path, "the table has more than a million rows",
                     "Thin it out, or state a shape: `mintspread fit` reads as many as there are.");
      return std::nullopt;
    }
    // A decimal comma splits a number in two: the row then has a field too many.
    if (record.size() != heading.size()) {
      findings.error({&source, record[0].at}, path,
                     fmt::format("this row has {} fields, but the heading has {}", record.size(), heading.size()),
                     record.size() > heading.size() ? "If its numbers have decimal commas, write decimal points." : "");
      if (++cell_errors > most_cell_errors) return std::nullopt;
      continue;
    }
    read_cell(record[*position], source, path, findings, out, cell_errors);
  }
  if (cell_errors > most_cell_errors)
    findings.error(
        {&source, 0}, path,
        fmt::format("{} more cells of the column `{}` cannot be read", cell_errors - most_cell_errors, column), "");
  if (findings.errors() > before) return std::nullopt;
  if (out.values.size() < fewest_values) {
    findings.error(asked, path, fmt::format("{} values are too few for a distribution", out.values.size()),
                   fmt::format("Measure at least {} pieces, or state a tolerance.", fewest_values));
    return std::nullopt;
  }
  return out;
}

}  // namespace mintspread::specs
