#pragma once

#include <cstddef>
#include <optional>
#include <span>
#include <stdexcept>
#include <string>
#include <vector>

#include "engine/study/study.hpp"
#include "specs/reader.hpp"
#include "tools/program/command_line.hpp"
#include "tools/program/console.hpp"

namespace mintspread::program {

/// Specifications have mistakes, all of which have been told. The program ends with exit status 2.
class Rejected : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Reads and prepares the specifications of a request, tells everything that is wrong with any of them on standard
/// error, with file, line and column, and counts it.
class Examination {
 public:
  Examination(const Request& request, const Console& console);

  /// Nothing when there are mistakes.
  std::optional<specs::Specification> read(const std::filesystem::path& file);
  /// Nothing when there are mistakes, or when `specification` is nothing.
  std::optional<study::Study> prepare(const std::optional<specs::Specification>& specification);
  /// What the study warns of, at its place in the file.
  void tell_warnings(const specs::Specification& specification, const study::Study& study);

  /// Tells problems that only a study in its finite size shows, at their place in the file. Throws Rejected.
  [[noreturn]] void reject(const specs::Specification& specification, std::span<const Problem> problems);

  std::size_t mistakes() const { return mistakes_; }
  /// Throws Rejected if there were mistakes.
  void finish(const std::string& consequence) const;

 private:
  void tell(std::span<const specs::Diagnostic> diagnostics);

  const Request& request_;
  specs::Colour colour_;
  std::vector<specs::Override> overrides_;
  std::size_t mistakes_ = 0;
};

}  // namespace mintspread::program
