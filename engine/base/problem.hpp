#pragma once

#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

namespace mintspread {

/// One thing the user has to change. `path` is the address of the value in the specification ("bath.copper.thickness"),
/// from which the reader finds file, line and column.
struct Problem {
  std::string path;
  std::string what;    ///< what is wrong and why it matters
  std::string remedy;  ///< what to do; may be empty
};

/// A specification that cannot be computed; carries every problem found, not the first.
class InvalidSpecification : public std::runtime_error {
 public:
  explicit InvalidSpecification(std::vector<Problem> problems)
      : std::runtime_error(problems.empty() ? "invalid specification" : problems.front().what),
        problems_(std::move(problems)) {}
  const std::vector<Problem>& problems() const { return problems_; }

 private:
  std::vector<Problem> problems_;
};

}  // namespace mintspread
