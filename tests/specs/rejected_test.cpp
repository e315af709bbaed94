#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <set>

#include "specs/reader.hpp"

using namespace mintspread;

namespace {

const std::filesystem::path folder = std::filesystem::path(MINTSPREAD_TESTS) / "rejected";

/// Files beside the rejected ones, under the names a user standing in that folder would see.
specs::FileText from_folder(const std::string& path) { return specs::disk_files()((folder / path).string()); }

std::vector<std::string> lines_of(const std::filesystem::path& file) {
  std::ifstream stream(file);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

}  // namespace

// Beside NAME.yaml stands NAME.txt: the beginning of every error it must get, in order, and of no other.
TEST_CASE("every rejected specification gets its errors, at their places, and no others") {
  std::set<std::filesystem::path> expectations;
  for (const auto& entry : std::filesystem::directory_iterator(folder))
    if (entry.path().extension() == ".txt") expectations.insert(entry.path());
  REQUIRE(expectations.size() > 100);
  for (const std::filesystem::path& expectation : expectations) {
    const std::string name = expectation.stem().string() + ".yaml";
    INFO(name);
    std::vector<std::string> found;
    try {
      specs::read_specification(name, {}, from_folder);
    } catch (const specs::RejectedSpecification& rejected) {
      for (const specs::Diagnostic& d : rejected.diagnostics)
        if (d.severity == specs::Severity::error) {
          const std::string text = render(d, specs::Colour::none);
          found.push_back(text.substr(0, text.find('\n')));
        }
    }
    const std::vector<std::string> expected = lines_of(expectation);
    REQUIRE_FALSE(expected.empty());
    for (std::size_t i = 0; i < std::max(found.size(), expected.size()); ++i) {
      REQUIRE(i < found.size());
      INFO("found " << found[i]);
      REQUIRE(i < expected.size());
      CHECK(found[i].substr(0, expected[i].size()) == expected[i]);
    }
  }
}

TEST_CASE("every error of a rejected specification says what to do or why, and shows its line") {
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().extension() != ".txt") continue;
    const std::string name = entry.path().stem().string() + ".yaml";
    INFO(name);
    try {
      specs::read_specification(name, {}, from_folder);
      FAIL("accepted");
    } catch (const specs::RejectedSpecification& rejected) {
      for (const specs::Diagnostic& d : rejected.diagnostics) {
        INFO(d.what);
        CHECK(d.place.line >= 1);
        CHECK(d.place.column >= 1);
        CHECK(d.what.size() > 15);
        CHECK(std::string_view(".!?").find(d.what.back()) == std::string_view::npos);
      }
    }
  }
}
