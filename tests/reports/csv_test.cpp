#include "reports/csv.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "tests/reports/golden.hpp"
#include "tests/reports/invented.hpp"

using namespace mintspread;
using reports::result_csv;
using reports_tests::check_golden;
using reports_tests::invented_result;

namespace {

// RFC 4180, section 2, read here by hand: quoted fields may hold commas, line ends and doubled quotes.
std::vector<std::vector<std::string>> parsed(const std::string& text) {
  std::vector<std::vector<std::string>> lines(1, std::vector<std::string>(1));
  bool quoted = false;
  for (std::size_t i = 0; i < text.size(); ++i) {
    std::string& field = lines.back().back();
    if (quoted) {
      if (text[i] != '"') {
        field += text[i];
      } else if (i + 1 < text.size() && text[i + 1] == '"') {
        field += text[++i];
      } else {
        quoted = false;
      }
    } else if (text[i] == '"') {
      quoted = true;
    } else if (text[i] == ',') {
      lines.back().emplace_back();
    } else if (text[i] == '\r') {
      REQUIRE(text.at(++i) == '\n');
      if (i + 1 < text.size()) lines.emplace_back(1);
    } else {
      field += text[i];
    }
  }
  return lines;
}

// No file of the repository holds carriage returns; that they end each line is checked by parsed().
std::string without_carriage_returns(std::string text) {
  text.erase(std::remove(text.begin(), text.end(), '\r'), text.end());
  return text;
}

}  // namespace

TEST_CASE("Every line of the CSV has as many fields as its heading") {
  const auto lines = parsed(result_csv(invented_result()));
  REQUIRE(lines.size() > 100);
  for (const auto& line : lines) CHECK(line.size() == lines.front().size());
}

TEST_CASE("A comma, a quote and a line end in a name stay in their field") {
  auto result = invented_result();
  result.coin = "one, \"two\"\r\nthree";
  const auto lines = parsed(result_csv(result));
  CHECK(lines.size() == parsed(result_csv(invented_result())).size());
  CHECK(lines.at(1).at(0) == result.coin);
}

TEST_CASE("A name that a spreadsheet would run as a formula begins with an apostrophe, a negative number does not") {
  auto result = invented_result();
  result.channels[0].name = "=HYPERLINK(\"x\")";
  result.channels[0].nominal = -3.5;
  const auto lines = parsed(result_csv(result));
  CHECK(lines.at(1).at(2) == "'=HYPERLINK(\"x\")");
  CHECK(lines.at(1).at(4) == "-3.5");
}

TEST_CASE("The mark of a channel stands on each of its lines and on the windows that use it") {
  const auto lines = parsed(result_csv(invented_result()));
  int marked = 0;
  for (const auto& line : lines) {
    if (line.at(1) == "channel" && line.at(2) == "core") {
      CHECK(line.back().find("known to be wrong") != std::string::npos);
      ++marked;
    }
    if (line.at(2) == "sorting: core") CHECK(line.back().find("known to be wrong") != std::string::npos);
  }
  CHECK(marked > 10);
}

TEST_CASE("The CSV of the invented result is as stored") {
  check_golden("triple.csv", without_carriage_returns(result_csv(invented_result())));
}
