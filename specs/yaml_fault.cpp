#include "specs/yaml_fault.hpp"

#include <yaml-cpp/exceptions.h>

#include <algorithm>
#include <cctype>
#include <optional>
#include <string_view>

#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

struct Said {
  const char* library;
  const char* what;
  const char* remedy;
};

constexpr Said translations[] = {
    {YAML::ErrorMsg::UNKNOWN_ANCHOR, "an alias (`*name`) is not allowed: a value must stand where it is used", ""},
    {YAML::ErrorMsg::UNKNOWN_TOKEN, "a value cannot begin with this character", "Put the value in quotes."},
    {YAML::ErrorMsg::BLOCK_ENTRY, "a list cannot begin in the line of its key",
     "Begin the list in the next line, or write it as `[a, b]`."},
    {YAML::ErrorMsg::FLOW_END, "this bracket closes nothing that is open", ""},
    {YAML::ErrorMsg::EOF_IN_SCALAR, "a quote is never closed", ""},
    {YAML::ErrorMsg::DOC_IN_SCALAR, "a quote is not closed before this line", ""},
    {YAML::ErrorMsg::END_OF_MAP, "this line fits neither the mapping above it nor what stands outside of it",
     "Give it the indentation of the keys it belongs to."},
    {YAML::ErrorMsg::END_OF_SEQ, "this line fits neither the list above it nor what stands outside of it",
     "Give it the indentation of the list or of the keys it belongs to."},
};

/// Position in `line` of a colon that ends a key but has no blank after it.
std::optional<std::size_t> tight_colon(std::string_view line) {
  std::size_t i = line.find_first_not_of(" -\t");
  if (i == std::string_view::npos || !std::isalpha(static_cast<unsigned char>(line[i]))) return std::nullopt;
  while (i < line.size() &&
         (std::isalnum(static_cast<unsigned char>(line[i])) || line[i] == ' ' || line[i] == '-' || line[i] == '_'))
    ++i;
  const bool tight = i + 1 < line.size() && line[i] == ':' && !std::isspace(static_cast<unsigned char>(line[i + 1]));
  return tight ? std::optional(i) : std::nullopt;
}

bool content(std::string_view line) { return !trimmed(line).empty() && trimmed(line)[0] != '#'; }

}  // namespace

void report_yaml_fault(const Source& source, int line, int column, const std::string& message, std::size_t open_bracket,
                       Findings& findings) {
  const std::size_t row = line < 0 ? 0 : std::min(static_cast<std::size_t>(line), source.line_count() - 1);
  const std::size_t start = source.line_start(row);
  const At here{&source, std::min(start + static_cast<std::size_t>(std::max(column, 0)), source.text().size())};

  if (open_bracket != std::string::npos) {
    const char bracket = source.text()[open_bracket];
    const Place lost = source.place(here.offset);
    findings.error({&source, open_bracket}, "",
                   std::string("the bracket `") + bracket +
                       "` that opens here is not closed, or a comma is missing: the text can be followed to line " +
                       std::to_string(lost.line) + ", column " + std::to_string(lost.column),
                   std::string("Close it with `") + (bracket == '[' ? ']' : '}') + "`.");
    return;
  }
  // A line without its blank becomes part of the text around it; the library stumbles over the next colon only.
  for (std::size_t back = 0; back <= std::min<std::size_t>(row, 3); ++back) {
    const std::size_t begin = source.line_start(row - back);
    if (const auto colon = tight_colon(source.line(begin))) {
      findings.error({&source, begin + *colon}, "",
                     "no blank after the colon, so the line is not read as key and value", "Write `key: value`.");
      return;
    }
    if (back > 0 && content(source.line(begin))) break;
  }
  if (message == YAML::ErrorMsg::MAP_VALUE) {
    const std::string_view before = source.line(start).substr(0, here.offset - start);
    if (before.find(": ") != std::string_view::npos)
      findings.error(here, "", "a second colon followed by a blank stands in this line",
                     "Put text that contains a colon in quotes.");
    else
      findings.error({&source, start + std::min(before.find_first_not_of(' '), before.size())}, "",
                     "this line is indented as if it continued the value above, but it is a key",
                     "Give it the indentation of the keys it belongs to.");
    return;
  }
  if (message.starts_with(YAML::ErrorMsg::INVALID_ESCAPE) && here.offset > 0) {
    findings.error({&source, here.offset - 1}, "", "an unknown escape after the backslash",
                   "In double quotes write `\\\\` for a backslash.");
    return;
  }
  for (const Said& said : translations)
    if (message.starts_with(said.library)) {
      findings.error(here, "", said.what, said.remedy);
      return;
    }
  findings.error(here, "", "this is not YAML: " + message, "");
}

}  // namespace mintspread::specs
