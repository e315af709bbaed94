#pragma once

#include <cstddef>
#include <map>
#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "specs/diagnostic.hpp"

namespace mintspread::specs {

/// The text of one file, or of one override, without a byte order mark, with its lines. Stays where it is: nodes and
/// findings point into it.
class Source {
 public:
  /// `name` is what diagnostics call it, `directory` where its relative includes are looked for.
  Source(std::string name, std::string directory, std::string text);
  Source(const Source&) = delete;
  Source& operator=(const Source&) = delete;

  const std::string& name() const { return name_; }
  const std::string& directory() const { return directory_; }
  const std::string& text() const { return text_; }

  /// Line and column of a byte; columns count characters.
  Place place(std::size_t offset) const;
  /// The line a byte stands in, without its end.
  std::string_view line(std::size_t offset) const;
  /// First byte of the n-th line, counted from 0; the end of the text behind the last.
  std::size_t line_start(std::size_t line) const { return line < starts_.size() ? starts_[line] : text_.size(); }
  std::size_t line_count() const { return starts_.size(); }

 private:
  std::size_t line_of(std::size_t offset) const;
  std::string name_, directory_, text_;
  std::vector<std::size_t> starts_;
};

/// A byte of a source.
struct At {
  const Source* source = nullptr;
  std::size_t offset = 0;
};

/// Collects what is found. The same sentence about the same place is kept once; beyond a hundred errors the rest is
/// only counted.
class Findings {
 public:
  void error(At at, const std::string& path, std::string what, std::string remedy = {});
  void warning(At at, const std::string& path, std::string what, std::string remedy = {});
  bool any_error() const { return errors_ > 0; }
  std::size_t errors() const { return errors_; }
  /// Whether a file, and every override, is free of errors so far.
  bool sound(const std::string& file) const;
  /// In the order of files as first met, lines and columns.
  std::vector<Diagnostic> sorted() const;
  /// Files in the order they are to be reported.
  void met(const Source& source);

 private:
  void add(Severity severity, At at, const std::string& path, std::string what, std::string remedy);
  std::vector<Diagnostic> found_;
  std::set<std::string> known_;
  std::set<std::string> faulty_;  ///< names of sources with errors
  std::map<std::string, std::size_t> order_;
  std::size_t errors_ = 0;
};

/// First byte of `text` that is no UTF-8 (RFC 3629: shortest forms, no surrogates); npos when all is.
std::size_t first_invalid_utf8(std::string_view text);

/// Number of characters in valid UTF-8.
std::size_t characters(std::string_view text);

}  // namespace mintspread::specs
