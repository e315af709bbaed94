#include "specs/measurements.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <filesystem>
#include <fstream>
#include <system_error>

#include "specs/context.hpp"
#include "specs/number.hpp"
#include "specs/source.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t most_told = 10;
constexpr std::size_t longest_kept_line = 4096;
constexpr std::size_t longest_record = std::size_t{1} << 20;

struct Field {
  std::string text;
  std::uint64_t line = 0;
  std::size_t at = 0;  ///< byte of its line
};

/// Walks a file record by record through one buffer.
class RecordReader {
 public:
  explicit RecordReader(const std::string& file) : file_(file), stream_(file, std::ios::binary) {
    buffer_.resize(std::size_t{1} << 20);
    fill();
    if (available_ >= 3 && std::string_view(buffer_.data(), 3) == "\xEF\xBB\xBF") next_ = 3;
  }

  bool open() const { return stream_.is_open(); }
  bool more() { return fault_.what.empty() && peek() != none; }
  const Diagnostic& fault() const { return fault_; }

  /// The next record; its fields are valid until the one after it. Count of fields, 0 after a fault.
  std::size_t record(char separator) {
    count_ = 0;
    line_text_.clear();
    record_line_ = line_;
    while (true) {
      field(separator);
      if (!fault_.what.empty()) return 0;
      const int c = peek();
      if (c == static_cast<unsigned char>(separator)) {
        take();
        continue;
      }
      if (c == '\r') take();
      if (peek() == '\n') take_line_end();
      if (line_text_.size() < longest_kept_line && first_invalid_utf8(line_text_) != std::string::npos) {
        fail({{}, record_line_, first_invalid_utf8(line_text_)}, "this byte is not UTF-8 text",
             "Save the table as UTF-8.");
        return 0;
      }
      return count_;
    }
  }
  const Field& at(std::size_t i) const { return fields_[i]; }
  Diagnostic diagnostic(const Field& field, std::size_t offset, std::string what, std::string remedy) const {
    Diagnostic d;
    const std::size_t byte = field.at + offset;
    const auto column = field.line == record_line_ ? characters(line_text_.substr(0, byte)) : byte;
    d.place = {file_, static_cast<int>(field.line + 1), static_cast<int>(column + 1)};
    d.what = std::move(what);
    d.remedy = std::move(remedy);
    if (field.line == record_line_) d.source_line = line_text_.substr(0, line_text_.find('\n'));
    return d;
  }
  /// Which separator the heading shows.
  char separator() const {
    const std::string_view text(buffer_.data() + next_, available_ - next_);
    const std::string_view line = text.substr(0, text.find_first_of("\r\n"));
    bool quoted = false, tab = false;
    for (char c : line) {
      if (c == '"') quoted = !quoted;
      if (quoted) continue;
      if (c == ';') return ';';
      tab = tab || c == '\t';
    }
    return tab ? '\t' : ',';
  }

 private:
  static constexpr int none = -1;

  void fill() {
    stream_.read(buffer_.data(), static_cast<std::streamsize>(buffer_.size()));
    available_ = static_cast<std::size_t>(stream_.gcount());
    next_ = 0;
  }
  int peek() {
    if (next_ == available_) {
      if (!stream_) return none;
      fill();
      if (available_ == 0) return none;
    }
    return static_cast<unsigned char>(buffer_[next_]);
  }
  char take() {
    const char c = buffer_[next_++];
    if (line_text_.size() < longest_kept_line) line_text_ += c;
    ++column_;
    return c;
  }
  void take_line_end() {
    ++next_;
    ++line_;
    column_ = 0;
  }

  void field(char separator) {
    if (count_ == fields_.size()) fields_.emplace_back();
    Field& field = fields_[count_++];
    field.text.clear();
    field.line = line_;
    field.at = column_;
    if (peek() != '"') {
      for (int c = peek(); c != none && c != static_cast<unsigned char>(separator) && c != '\r' && c != '\n';
           c = peek())
        if (!keep(field, take())) return;
      return;
    }
    take();
    while (true) {
      const int c = peek();
      if (c == none) return fail(field, "the quote that opens here is never closed", "");
      if (c == '\n') {
        take_line_end();
        if (!keep(field, '\n')) return;
        continue;
      }
      take();
      if (c != '"') {
        if (!keep(field, static_cast<char>(c))) return;
        continue;
      }
      if (peek() != '"') break;
      take();
      if (!keep(field, '"')) return;
    }
    const int c = peek();
    if (c != none && c != static_cast<unsigned char>(separator) && c != '\r' && c != '\n')
      fail({{}, line_, column_}, "text follows the closing quote of this field",
           "Double the quotes inside of a quoted field.");
  }
  bool keep(Field& field, char c) {
    field.text += c;
    if (field.text.size() < longest_record) return true;
    fail(field, "a field of more than a megabyte is no measurement", "See whether a quote is left open.");
    return false;
  }
  void fail(const Field& field, std::string what, std::string remedy) {
    fault_ = diagnostic(field, 0, std::move(what), std::move(remedy));
  }

  std::string file_;
  std::ifstream stream_;
  std::string buffer_, line_text_;
  std::size_t next_ = 0, available_ = 0, count_ = 0, column_ = 0;
  std::uint64_t line_ = 0, record_line_ = 0;
  std::vector<Field> fields_;
  Diagnostic fault_;
};

std::pair<std::string, std::string> name_and_unit(std::string_view heading) {
  heading = trimmed(heading);
  if (heading.empty() || (heading.back() != ']' && heading.back() != ')')) return {std::string(heading), ""};
  const std::size_t open = heading.rfind(heading.back() == ']' ? '[' : '(');
  if (open == std::string_view::npos || open == 0) return {std::string(heading), ""};
  std::string unit(trimmed(heading.substr(open + 1, heading.size() - open - 2)));
  // Both signs for "micro" are on keyboards; units are written in letters here.
  for (const std::string_view micro : {"\u00B5", "\u03BC"})
    if (unit.starts_with(micro)) unit.replace(0, micro.size(), "u");
  return {std::string(trimmed(heading.substr(0, open))), unit};
}

bool is_gap(std::string_view text) {
  constexpr std::array<std::string_view, 10> gaps = {"", "NA", "N/A", "n/a", "#N/A", "nan", "NaN", "NAN", "-", "--"};
  return std::find(gaps.begin(), gaps.end(), text) != gaps.end();
}

/// Decimal places written: 1.20 has two, 1.2e-5 six, 1e3 minus three.
int decimals_of(std::string_view number) {
  const std::size_t exponent = number.find_first_of("eE"), point = number.find('.');
  const std::string_view mantissa = number.substr(0, exponent);
  int places = point < mantissa.size() ? static_cast<int>(mantissa.size() - point) - 1 : 0;
  if (exponent != std::string_view::npos) places -= std::atoi(std::string(number.substr(exponent + 1)).c_str());
  return places;
}

class TableReader {
 public:
  TableReader(const std::string& file, const std::vector<std::string>& columns, const std::vector<std::string>& groups,
              const RowTaker& take)
      : file_(file), asked_(columns), groups_(groups), take_(take), records_(file) {}

  ReadTable read() {
    std::error_code error;
    if (!std::filesystem::exists(file_, error)) refuse("no such file");
    if (!std::filesystem::is_regular_file(file_, error)) refuse("this is no file with a table");
    if (!records_.open()) refuse("cannot be read: " + std::generic_category().message(errno));
    if (!records_.more()) refuse("the table is empty");
    out_.separator = records_.separator();
    find_columns(records_.record(out_.separator));
    stop_if_any();
    if (!take_) return std::move(out_);
    rows();
    if (!records_.fault().what.empty()) problems_.push_back(records_.fault());
    if (cell_problems_ > most_told)
      problems_.push_back(whole(fmt::format("{} more cells cannot be read", cell_problems_ - most_told)));
    stop_if_any();
    tell();
    return std::move(out_);
  }

 private:
  Diagnostic whole(std::string what, std::string remedy = {}, Severity severity = Severity::error) const {
    Diagnostic d;
    d.place.file = file_;
    d.what = std::move(what);
    d.remedy = std::move(remedy);
    d.severity = severity;
    return d;
  }
  [[noreturn]] void refuse(const std::string& what) const { throw RejectedSpecification({whole(what)}); }
  void stop_if_any() {
    if (!problems_.empty()) throw RejectedSpecification(std::move(problems_));
  }

  void find_columns(std::size_t count) {
    if (count == 0) return problems_.push_back(records_.fault());
    width_ = count;
    std::vector<std::string> whole_names, names;
    for (std::size_t i = 0; i < count; ++i) {
      whole_names.emplace_back(trimmed(records_.at(i).text));
      names.push_back(name_and_unit(records_.at(i).text).first);
    }
    if (!names.empty() && std::holds_alternative<double>(whole_number_text(names.front())))
      problems_.push_back(records_.diagnostic(records_.at(0), 0,
                                              "the first line holds a number, where the names of the columns belong",
                                              "Give the table a heading line."));
    std::vector<std::string> asked = asked_;
    if (asked.empty()) {
      std::vector<std::string> free;
      for (const std::string& name : names)
        if (std::find(groups_.begin(), groups_.end(), name) == groups_.end()) free.push_back(name);
      if (free.size() != 1)
        return problems_.push_back(whole("which column? The table has " + listed(names), "Name it with --column."));
      asked = free;
    }
    const auto find = [&](const std::string& wanted, const char* option) {
      for (const auto* known : {&whole_names, &names}) {
        const auto found = std::find(known->begin(), known->end(), wanted);
        if (found == known->end()) continue;
        if (std::find(found + 1, known->end(), wanted) != known->end()) {
          problems_.push_back(whole(fmt::format("the column `{}` stands twice in the heading of the table", wanted),
                                    "Give the columns different names."));
          return std::size_t{0};
        }
        return static_cast<std::size_t>(found - known->begin());
      }
      std::string remedy = suggest(wanted, names);
      problems_.push_back(whole(fmt::format("the table has no column `{}`, which {} names", wanted, option),
                                remedy.empty() ? "It has " + listed(names) : remedy));
      return std::size_t{0};
    };
    for (const std::string& name : asked) {
      positions_.push_back(find(name, "--column"));
      const auto [bare, unit] = name_and_unit(records_.at(positions_.back()).text);
      out_.columns.push_back({bare, unit, 0, 0, -400});
    }
    for (const std::string& name : groups_) group_positions_.push_back(find(name, "--group"));
    for (const std::size_t group : group_positions_)
      if (problems_.empty() && std::find(positions_.begin(), positions_.end(), group) != positions_.end())
        problems_.push_back(whole("one column is named as measured and as a group"));
  }

  static std::string listed(const std::vector<std::string>& names) {
    constexpr std::size_t most = 12;
    std::string out;
    for (std::size_t i = 0; i < std::min(names.size(), most); ++i) out += (i ? ", `" : "`") + names[i] + "`";
    if (names.size() > most) out += fmt::format(" and {} more", names.size() - most);
    return out;
  }

  void rows() {
    std::vector<Reading> readings(positions_.size());
    std::vector<std::string_view> groups(group_positions_.size());
    while (records_.more()) {
      const std::size_t count = records_.record(out_.separator);
      if (count == 0) return;
      if (count == 1 && trimmed(records_.at(0).text).empty()) {
        if (width_ == 1 && records_.more()) ++out_.columns.front().gaps;
        continue;
      }
      ++out_.rows;
      if (count != width_) {
        told(records_.at(0), 0, fmt::format("this row has {} fields, but the heading has {}", count, width_),
             count > width_ && out_.separator == ','
                 ? "If its numbers have decimal commas, separate the fields by semicolons."
                 : "");
        continue;
      }
      for (std::size_t i = 0; i < readings.size(); ++i) readings[i] = cell(records_.at(positions_[i]), out_.columns[i]);
      bool complete = true;
      for (std::size_t i = 0; i < groups.size(); ++i) {
        groups[i] = trimmed(records_.at(group_positions_[i]).text);
        complete = complete && !groups[i].empty();
      }
      out_.without_group += complete ? 0u : 1u;
      if (problems_.empty()) take_(readings, groups);
    }
  }

  Reading cell(const Field& field, ReadColumn& column) {
    std::string_view text = trimmed(field.text);
    if (is_gap(text)) {
      ++column.gaps;
      column.words_for_gaps += text.empty() ? 0U : 1U;
      return {};
    }
    Reading reading{Reading::Kind::value, 0.0};
    if (text[0] == '<' || text[0] == '>') {
      reading.kind = text[0] == '<' ? Reading::Kind::below : Reading::Kind::above;
      text = trimmed(text.substr(text.size() > 1 && text[1] == '=' ? 2 : 1));
    }
    scratch_.assign(text);
    if (out_.separator != ',')
      if (const std::size_t comma = scratch_.find(','); comma != std::string::npos &&
                                                        scratch_.find_first_of(",.", comma + 1) == std::string::npos &&
                                                        scratch_.find('.') == std::string::npos) {
        scratch_[comma] = '.';
        out_.decimal_commas = true;
      }
    const auto number = whole_number_text(scratch_);
    if (const auto* fault = std::get_if<TextFault>(&number)) {
      told(field, 0, "a cell of the measured column is no number: " + fault->what,
           fault->remedy.empty()
               ? "Leave a cell empty where nothing was measured; write `< 0.5` for less than could be read."
               : fault->remedy);
      return {};
    }
    reading.value = std::get<double>(number);
    if (reading.kind == Reading::Kind::value) column.decimals = std::max(column.decimals, decimals_of(scratch_));
    return reading;
  }
  void told(const Field& field, std::size_t offset, std::string what, std::string remedy) {
    if (++cell_problems_ <= most_told)
      problems_.push_back(records_.diagnostic(field, offset, std::move(what), std::move(remedy)));
  }

  void tell() {
    const auto warn = [&](std::string what, std::string remedy = {}) {
      out_.warnings.push_back(whole(std::move(what), std::move(remedy), Severity::warning));
    };
    for (const ReadColumn& column : out_.columns)
      if (column.gaps > 0)
        warn(fmt::format("the column `{}` has {} {} without a value, which are left out", column.name, column.gaps,
                         column.gaps == 1 ? "cell" : "cells"));
    if (out_.decimal_commas) warn("numbers are written with decimal commas, which are read as such");
    if (out_.without_group > 0)
      warn(fmt::format("{} {} no group; the variances between groups leave them out", out_.without_group,
                       out_.without_group == 1 ? "row has" : "rows have"));
  }

  const std::string& file_;
  const std::vector<std::string>&asked_, &groups_;
  const RowTaker& take_;
  RecordReader records_;
  ReadTable out_;
  std::vector<std::size_t> positions_, group_positions_;
  std::size_t width_ = 0, cell_problems_ = 0;
  std::string scratch_;
  std::vector<Diagnostic> problems_;
};

}  // namespace

ReadTable read_measurements(const std::string& file, const std::vector<std::string>& columns,
                            const std::vector<std::string>& groups, const RowTaker& take) {
  return TableReader(file, columns, groups, take).read();
}

}  // namespace mintspread::specs
