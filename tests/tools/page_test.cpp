#include "reports/page.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cctype>
#include <ctime>
#include <filesystem>
#include <set>
#include <string>
#include <vector>

#include "reports/json.hpp"
#include "tests/support/temporary_folder.hpp"
#include "tests/tools/run_program.hpp"

using namespace mintspread;
using mintspread::test::contents;
using mintspread::test::put;
using mintspread::test::run_program;
using mintspread::test::TemporaryFolder;

namespace fs = std::filesystem;

namespace {

const fs::path specs = MINTSPREAD_SPECS;

std::vector<fs::path> examples() {
  std::vector<fs::path> paths;
  for (const auto& entry : fs::directory_iterator(specs))
    if (entry.path().extension() == ".yaml") paths.push_back(entry.path());
  std::sort(paths.begin(), paths.end());
  REQUIRE_FALSE(paths.empty());
  return paths;
}

bool digit(const std::string& text, std::size_t i) {
  return i < text.size() && std::isdigit(static_cast<unsigned char>(text[i])) != 0;
}

/// Words of at least four letters in lower case, and numbers of at least five characters as they are written.
std::set<std::string> words_in(const std::string& text) {
  std::set<std::string> words;
  const auto keep = [&](const std::string& word) {
    const bool number = std::isdigit(static_cast<unsigned char>(word.front())) != 0;
    if (word.size() >= (number ? 5U : 4U)) words.insert(word);
  };
  std::string word;
  for (std::size_t i = 0; i <= text.size(); ++i) {
    const auto c = static_cast<unsigned char>(i < text.size() ? text[i] : ' ');
    const bool number = !word.empty() && std::isdigit(static_cast<unsigned char>(word.front())) != 0;
    if (std::isdigit(c) != 0 ? number || word.empty()
        : number             ? c == '.' && digit(text, i + 1)
                             : std::isalpha(c) != 0) {
      word += static_cast<char>(std::tolower(c));
      continue;
    }
    if (!word.empty()) keep(word);
    word.clear();
    if (std::isalnum(c) != 0) word = static_cast<char>(std::tolower(c));
  }
  return words;
}

/// What a reader sees: without tags, the style sheet and the numbers for programs.
std::string visible(std::string page) {
  for (const auto& [start, stop] : {std::pair<std::string, std::string>{"<style>", "</style>"}, {"<", ">"}}) {
    std::string kept;
    std::size_t from = 0;
    for (auto at = page.find(start); at != std::string::npos; at = page.find(start, from)) {
      kept += page.substr(from, at - from) + " ";
      from = page.find(stop, at) + stop.size();
    }
    page = kept + page.substr(from);
  }
  return page;
}

/// Every number with a decimal point gets four more digits: none is met by chance among the figures of a page any more.
std::string made_distinct(const std::string& text) {
  std::string distinct;
  for (std::size_t i = 0; i < text.size(); ++i) {
    distinct += text[i];
    std::size_t point = i;
    while (point > 0 && digit(text, point)) --point;
    if (digit(text, i) && !digit(text, i + 1) && text[point] == '.' && point > 0 && digit(text, point - 1))
      distinct += "3719";
  }
  return distinct;
}

struct Parted {
  std::string
      secret;         ///< what a customer must not learn: construction, materials, groups, and the route or the section
  std::string whole;  ///< the specification with the numbers of that part made distinct
};

Parted parted(const std::string& specification) {
  Parted parts;
  bool inside = false;
  for (std::size_t at = 0; at < specification.size();) {
    const std::size_t end = std::min(specification.find('\n', at), specification.size());
    std::string line = specification.substr(at, end - at);
    at = end + 1;
    if (!line.empty() && std::isalpha(static_cast<unsigned char>(line.front())) != 0) {
      inside = false;
      for (const char* key : {"materials:", "groups:", "route:", "section:", "correlations:"})
        inside = inside || line.rfind(key, 0) == 0;
    }
    if (line.find("construction:") != std::string::npos || inside) {
      line = made_distinct(line.substr(0, line.find('#')));
      parts.secret += line + "\n";
    }
    parts.whole += line + "\n";
  }
  return parts;
}

}  // namespace

TEST_CASE("the page of every example is below 400 kB with shares and lots, and is written in less than 0.3 s") {
  TemporaryFolder folder;
  for (const auto& example : examples()) {
    CAPTURE(example);
    const auto ended = run_program({"run", example, "--planar", "--coins", "1e5", "--outer", "3", "--shares", "--lots",
                                    "20", "--page", folder / "p.html", "--json", folder / "p.json"});
    REQUIRE(ended.status <= 1);
    CHECK(fs::file_size(folder / "p.html") < 400000);
    const auto result = reports::read_result_json(contents(folder / "p.json"));
    // Time of the processor, not on the clock: what else the machine does is no matter of the page's.
    const std::clock_t start = std::clock();
    const std::string page = reports::result_page(result);
    const double seconds = static_cast<double>(std::clock() - start) / CLOCKS_PER_SEC;
    CHECK(page == contents(folder / "p.html"));
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
    CHECK(seconds < 0.3);
#endif
  }
}

TEST_CASE("no construction word or number of any example's specification survives in the page for a customer") {
  TemporaryFolder folder;
  fs::copy(specs, folder / "specs", fs::copy_options::recursive);
  for (const auto& example : examples()) {
    CAPTURE(example);
    const Parted parts = parted(contents(example));
    const fs::path changed = fs::path(folder / "specs") / example.filename();
    put(changed, parts.whole);
    const auto ended = run_program({"run", changed, "--planar", "--coins", "50000", "--outer", "3", "--shares",
                                    "--lots", "10", "--page", folder.path(), "--report", "customer"});
    CAPTURE(ended.err);
    REQUIRE(ended.status <= 1);
    const std::string page = contents(folder / (example.stem().string() + "-customer.html"));
    CHECK(page.find(example.filename().string()) == std::string::npos);
    CHECK(page.find(folder.path().string()) == std::string::npos);
    auto secret = words_in(parts.secret);
    REQUIRE(secret.size() > 10);
    // What sensor and windows tell as well is known to the customer: channels, units, dimensions that are read.
    std::string known = contents(specs / "sensors/bench-slot.yaml");
    for (const auto& windows : fs::directory_iterator(specs / "windows")) {
      // Those that the specification names.
      if (contents(example).find("windows/" + windows.path().filename().string()) != std::string::npos)
        known += contents(windows.path());
    }
    // Words of every page, whatever the coin.
    known +=
        " from with that between this part piece place process accepted reading measured data varies stage range known "
        "value "
        "mean "
        "specification production ";
    for (const auto& word : words_in(known)) secret.erase(word);
    CHECK(secret.size() > 8);
    // The engineer's page does show them: the words are found where they are.
    REQUIRE(
        run_program({"run", changed, "--planar", "--coins", "2000", "--outer", "0", "--page", folder / "whole.html"})
            .status <= 1);
    const auto told = words_in(visible(contents(folder / "whole.html")));
    CHECK(std::count_if(secret.begin(), secret.end(), [&](const auto& word) { return told.count(word) != 0; }) > 8);
    const auto shown = words_in(visible(page));
    for (const auto& word : secret) {
      CAPTURE(word);
      CHECK(shown.count(word) == 0);
    }
  }
}
