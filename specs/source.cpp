#include "specs/source.hpp"

#include <algorithm>
#include <tuple>

#include "engine/base/contract.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t most_errors = 100;
constexpr std::size_t longest_kept_line = 4096;

bool continues(char c) { return (static_cast<unsigned char>(c) & 0xC0u) == 0x80u; }

}  // namespace

Source::Source(std::string name, std::string directory, std::string text)
    : name_(std::move(name)), directory_(std::move(directory)), text_(std::move(text)) {
  // Some editors begin a file with a byte order mark, which is no part of the text.
  if (text_.starts_with("\xEF\xBB\xBF")) text_.erase(0, 3);
  starts_.push_back(0);
  for (std::size_t i = 0; i < text_.size(); ++i)
    if (text_[i] == '\n') starts_.push_back(i + 1);
}

std::size_t Source::line_of(std::size_t offset) const {
  const auto next = std::upper_bound(starts_.begin(), starts_.end(), std::min(offset, text_.size()));
  return static_cast<std::size_t>(next - starts_.begin()) - 1;
}

Place Source::place(std::size_t offset) const {
  const std::size_t line = line_of(offset), start = starts_[line];
  const std::string_view before = std::string_view(text_).substr(start, std::min(offset, text_.size()) - start);
  return {name_, static_cast<int>(line) + 1, static_cast<int>(characters(before)) + 1};
}

std::string_view Source::line(std::size_t offset) const {
  const std::size_t start = starts_[line_of(offset)];
  std::string_view line = std::string_view(text_).substr(start);
  line = line.substr(0, line.find('\n'));
  if (!line.empty() && line.back() == '\r') line.remove_suffix(1);
  return line;
}

void Findings::met(const Source& source) { order_.emplace(source.name(), order_.size()); }

void Findings::error(At at, const std::string& path, std::string what, std::string remedy) {
  add(Severity::error, at, path, std::move(what), std::move(remedy));
}

void Findings::warning(At at, const std::string& path, std::string what, std::string remedy) {
  add(Severity::warning, at, path, std::move(what), std::move(remedy));
}

void Findings::add(Severity severity, At at, const std::string& path, std::string what, std::string remedy) {
  expect(at.source != nullptr, "a finding stands in a source");
  if (!known_.insert(at.source->name() + ":" + std::to_string(at.offset) + ":" + what).second) return;
  met(*at.source);
  if (severity == Severity::error) faulty_.insert(at.source->name());
  if (severity == Severity::error && ++errors_ > most_errors) return;
  found_.push_back({at.source->place(at.offset), path, std::move(what), std::move(remedy),
                    std::string(at.source->line(at.offset).substr(0, longest_kept_line)), severity});
}

bool Findings::sound(const std::string& file) const {
  return !faulty_.contains(file) && std::none_of(faulty_.begin(), faulty_.end(),
                                                 [](const std::string& name) { return name.starts_with("--set "); });
}

std::vector<Diagnostic> Findings::sorted() const {
  std::vector<Diagnostic> all = found_;
  const auto key = [this](const Diagnostic& d) {
    return std::tuple(order_.at(d.place.file), d.place.line, d.place.column);
  };
  std::stable_sort(all.begin(), all.end(), [&](const Diagnostic& a, const Diagnostic& b) { return key(a) < key(b); });
  if (errors_ > most_errors && !all.empty())
    all.push_back({{all.back().place.file, 0, 0},
                   "",
                   std::to_string(errors_ - most_errors) + " more problems are not listed",
                   "Mend these first.",
                   "",
                   Severity::error});
  return all;
}

std::size_t first_invalid_utf8(std::string_view text) {
  const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(text[i]); };
  for (std::size_t i = 0; i < text.size();) {
    const unsigned lead = byte(i);
    const std::size_t length = lead < 0x80                   ? 1
                               : lead >= 0xC2 && lead < 0xE0 ? 2
                               : lead >= 0xE0 && lead < 0xF0 ? 3
                               : lead >= 0xF0 && lead < 0xF5 ? 4
                                                             : 0;
    if (length == 0 || i + length > text.size()) return i;
    for (std::size_t k = 1; k < length; ++k)
      if (!continues(text[i + k])) return i;
    // Overlong forms, surrogates and code points beyond U+10FFFF show in the second byte.
    if ((lead == 0xE0 && byte(i + 1) < 0xA0) || (lead == 0xED && byte(i + 1) > 0x9F) ||
        (lead == 0xF0 && byte(i + 1) < 0x90) || (lead == 0xF4 && byte(i + 1) > 0x8F))
      return i;
    i += length;
  }
  return std::string_view::npos;
}

std::size_t characters(std::string_view text) {
  return static_cast<std::size_t>(std::count_if(text.begin(), text.end(), [](char c) { return !continues(c); }));
}

}  // namespace mintspread::specs
