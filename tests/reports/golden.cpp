#include "tests/reports/golden.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <sstream>

namespace mintspread::reports_tests {

void check_golden(const std::string& name, const std::string& text) {
  const std::string path = std::string(MINTSPREAD_TESTS) + "/reports/golden/" + name;
  if (std::getenv("MINTSPREAD_WRITE_GOLDEN") != nullptr) {
    std::ofstream(path, std::ios::binary) << text;
    return;
  }
  std::ifstream file(path, std::ios::binary);
  INFO("golden file " << name);
  REQUIRE(file.good());
  std::stringstream stored;
  stored << file.rdbuf();
  std::istringstream old_lines(stored.str()), new_lines(text);
  std::string old_line, new_line;
  for (int line = 1;; ++line) {
    const bool old_more = static_cast<bool>(std::getline(old_lines, old_line));
    const bool new_more = static_cast<bool>(std::getline(new_lines, new_line));
    INFO("line " << line << "\n stored: " << old_line << "\n now:    " << new_line);
    REQUIRE(old_more == new_more);
    if (!old_more) break;
    if (old_line != new_line) FAIL("the report has changed");
  }
  CHECK(stored.str() == text);
}

}  // namespace mintspread::reports_tests
