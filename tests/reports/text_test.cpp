#include "reports/text.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <set>
#include <sstream>
#include <string>
#include <vector>

#include "reports/page.hpp"
#include "reports/paper.hpp"
#include "reports/section_text.hpp"
#include "tests/reports/golden.hpp"
#include "tests/reports/invented.hpp"

using namespace mintspread;
using namespace mintspread::reports;
using reports_tests::check_golden;
using reports_tests::invented_result;
using reports_tests::invented_solid_result;

namespace {

std::vector<std::string> lines_of(const std::string& text) {
  std::istringstream stream(text);
  std::vector<std::string> lines;
  for (std::string line; std::getline(stream, line);) lines.push_back(line);
  return lines;
}

std::vector<std::string> all_reports(const study::Result& result, const TextOptions& options) {
  return {run_text(result, options), reading_text(result, options), inputs_text(result, options)};
}

// Without what a run adds: what `mintspread reading` and `check` give.
study::Result before_any_draw() {
  study::Result result = invented_result();
  for (auto& channel : result.channels) {
    channel.coin = {};
    channel.reading = {};
    channel.undefined = 0;
  }
  result.windows.clear();
  result.targets.clear();
  result.provenance.pieces = result.provenance.threads = 0;
  return result;
}

}  // namespace

TEST_CASE("No line is wider than the terminal, none ends in a blank") {
  for (const std::size_t width : {60u, 80u, 100u, 160u}) {
    for (const auto& result : {invented_result(), invented_solid_result()}) {
      for (const auto& text : all_reports(result, {width, false})) {
        for (const auto& line : lines_of(text)) {
          INFO(width << ": " << line);
          CHECK(columns_of(line) <= width);
          CHECK((line.empty() || line.back() != ' '));
        }
      }
    }
  }
}

TEST_CASE("Colour adds codes and changes no word") {
  for (std::size_t i = 0; i < 3; ++i) {
    std::string coloured = all_reports(invented_result(), {100, true})[i];
    const std::string plain = all_reports(invented_result(), {100, false})[i];
    CHECK(plain.find('\x1b') == std::string::npos);
    CHECK(coloured.find("\x1b[1m") != std::string::npos);
    for (auto start = coloured.find('\x1b'); start != std::string::npos; start = coloured.find('\x1b')) {
      coloured.erase(start, coloured.find('m', start) - start + 1);
    }
    CHECK(coloured == plain);
  }
}

TEST_CASE("A name cannot drive the terminal") {
  auto result = invented_result();
  result.coin = "coin\x1b[2J\x07\xc2\x9b";
  result.channels[0].name = "skin\x1b]0;x";
  for (const auto& text : all_reports(result, {100, false})) {
    CHECK(text.find('\x1b') == std::string::npos);
    CHECK(text.find('\x07') == std::string::npos);
    CHECK(text.find("\xc2\x9b") == std::string::npos);
  }
}

TEST_CASE("A channel whose planar value is known to be wrong is marked where it stands and explained") {
  for (const auto& text : {run_text(invented_result(), {}), reading_text(invented_result(), {})}) {
    CHECK(text.find("core [1]") != std::string::npos);
    CHECK(text.find("late [2]") != std::string::npos);
    CHECK(text.find("[1] through-transmission over a magnetic core") != std::string::npos);
    CHECK(text.find("[2] gate after 50 us") != std::string::npos);
  }
}

TEST_CASE("A run never says 0 % or 100 % where it only has seen none or all") {
  const std::string text = run_text(invented_result(), {160, false});
  CHECK(text.find("> 99.99963") != std::string::npos);
  CHECK(text.find("< 0.00037") != std::string::npos);
  for (const auto& line : lines_of(text)) {
    INFO(line);
    CHECK(line.find(" 100.0") == std::string::npos);
    CHECK(line.find(" 0 %") == std::string::npos);
  }
}

TEST_CASE("A run says what its spread includes, how sure it is and what it does not replace") {
  const std::string text = run_text(invented_result(), {400, false});
  CHECK(text.find("includes strip lot, piece, barrel, charge and die; conditions and noise: play (reading)") !=
        std::string::npos);
  CHECK(text.find("coin sd includes strip lot, piece, barrel, charge and die; conditions at nominal") !=
        std::string::npos);
  CHECK(text.find("no certificate of acceptance") != std::string::npos);
  CHECK(text.find("Nickel release is not assessed") != std::string::npos);
  CHECK(text.find("licensed practice") != std::string::npos);
  CHECK(text.find("confidential") != std::string::npos);
  CHECK(text.find("undecided") != std::string::npos);
  CHECK(text.find("pieces have no value in iacs") != std::string::npos);
}

TEST_CASE("What was never drawn is undefined in words, not a number") {
  const auto result = before_any_draw();
  CHECK(run_text(result, {}).find("undefined") != std::string::npos);
  CHECK(run_text(result, {}).find("nan") == std::string::npos);
  CHECK(reading_text(result, {}).find("nan") == std::string::npos);
  CHECK(inputs_text(result, {}).find("nan") == std::string::npos);
}

TEST_CASE("A run whose sorts let no piece through says so wherever it has no number") {
  auto result = invented_result();
  result.yield->finished_pieces = 0;
  for (auto& set : result.windows) {
    set.accepted = {};
    set.worst.reset();
  }
  for (auto& target : result.targets) {
    target.figure = {};
    target.met = target.decided = false;
  }
  const std::string text = run_text(result, {400, false}), page = result_page(result);
  CHECK(text.find("undecided: no piece was finished") != std::string::npos);
  for (const std::string& report : {text, page}) {
    CHECK(report.find("or widen the limits of the sorts: none was finished") != std::string::npos);
    CHECK(report.find("straddles") == std::string::npos);
    CHECK(report.find("o computed piece was rejected") == std::string::npos);
    CHECK(report.find("nothing rejected") == std::string::npos);
  }
}

TEST_CASE("A difference says which way it goes only when its interval leaves out zero") {
  study::Comparison comparison;
  comparison.first = "one coin";
  comparison.second = "another coin";
  comparison.pieces = 100000;
  comparison.windows = {{"vending", {0.99, 0.985, {-0.005, study::Interval{-0.0056, -0.0044}, {}}}}};
  comparison.channels = {
      {"skin",
       "counts",
       {431.0, 431.5, {0.5, study::Interval{0.47, 0.53}, {}}},
       {8.0, 8.001, {0.001, study::Interval{-0.02, 0.022}, {}}}},
      {"same", "mm", {22.0, 22.0, {0.0, study::Interval{0.0, 0.0}, {}}}, {0.1, 0.1, {std::nan(""), {}, {}}}}};
  comparison.only_second = {"late"};
  comparison.method = "common draws";
  const std::string text = difference_text(comparison, {100, false});
  const auto lines = lines_of(text);
  const auto line_with = [&](const std::string& words) {
    for (const auto& line : lines) {
      if (line.find(words) != std::string::npos) return line;
    }
    return std::string();
  };
  CHECK(line_with("vending").find("down") != std::string::npos);
  CHECK(line_with("vending").find("-0.500") != std::string::npos);
  CHECK(line_with("skin").find("+0.500") != std::string::npos);
  CHECK(line_with("skin").find("up") != std::string::npos);
  CHECK(text.find("no change seen") != std::string::npos);
  CHECK(text.find("undefined") != std::string::npos);
  CHECK(text.find("Only B has late.") != std::string::npos);
  for (const auto& line : lines) CHECK(columns_of(line) <= 100);
}

TEST_CASE("Columns are counted in characters, not bytes") {
  CHECK(columns_of("±") == 1);
  CHECK(columns_of("caf\xc3\xa9") == 4);
}

TEST_CASE("A table too wide is told in parts that repeat the names of its rows") {
  Paper paper({60, false});
  paper.table({{{"name", Align::left},
                {"first column"},
                {"second column"},
                {"third column", Align::right, false, true},
                {"fourth column"}},
               1,
               {{"row", "1", "2", "3", "4"}}},
              0);
  CHECK(paper.take() ==
        "name  first column  second column\n"
        "row              1              2\n"
        "\n"
        "name  third column  fourth column\n"
        "row              3              4\n");
}

TEST_CASE("The reports of the invented results are as stored") {
  check_golden("triple-run.txt", run_text(invented_result(), {100, false}));
  check_golden("triple-run-60.txt", run_text(invented_result(), {60, false}));
  check_golden("triple-reading.txt", reading_text(invented_result(), {100, false}));
  check_golden("triple-inputs.txt", inputs_text(invented_result(), {100, false}));
  check_golden("solid-run.txt", run_text(invented_solid_result(), {100, false}));
}

TEST_CASE("layers of a section are told apart by their letters, however many a hot anneal makes") {
  study::NominalCoin coin;
  for (int i = 0; i < 70; ++i)
    coin.layers.push_back({"layer " + std::to_string(i), "metal", 1e-6, 0.0, 1e7, 1.0, i == 35});
  const TextTable table = section_table(coin, 20);
  std::set<std::string> letters;
  for (const auto& row : table.rows)
    if (row.size() > 1) letters.insert(row[1].substr(0, 2));
  CHECK(letters.size() == 70);
}
