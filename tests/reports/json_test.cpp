#include "reports/json.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <nlohmann/json.hpp>

#include "engine/base/problem.hpp"
#include "tests/reports/golden.hpp"
#include "tests/reports/invented.hpp"

using namespace mintspread;
using namespace mintspread::reports;
using reports_tests::check_golden;
using reports_tests::invented_result;
using reports_tests::invented_solid_result;

namespace {

std::string replaced(std::string text, const std::string& old, const std::string& by) {
  const auto at = text.find(old);
  REQUIRE(at != std::string::npos);
  return text.replace(at, old.size(), by);
}

Problem problem_of(const std::string& text) {
  try {
    read_result_json(text);
  } catch (const InvalidSpecification& error) {
    return error.problems().front();
  }
  FAIL("the file was read");
  return {};
}

}  // namespace

TEST_CASE("A result written as JSON reads back equal") {
  study::Result result = invented_result();
  // NaN is unequal to itself: the through-transmission row is compared apart.
  auto& row = result.nominal.impedances.back();
  REQUIRE(std::isnan(row.normalised_resistance));
  study::Result back = read_result_json(result_json(result, Times::keep));
  auto& back_row = back.nominal.impedances.back();
  CHECK(std::isnan(back_row.normalised_resistance));
  CHECK(std::isnan(back_row.normalised_reactance));
  row.normalised_resistance = row.normalised_reactance = 0.0;
  back_row.normalised_resistance = back_row.normalised_reactance = 0.0;
  CHECK(back == result);
  CHECK(read_result_json(result_json(invented_solid_result(), Times::keep)) == invented_solid_result());
}

TEST_CASE("Numbers at the ends of their range survive the file") {
  study::Result result = invented_solid_result();
  result.provenance.seed = std::numeric_limits<std::uint64_t>::max();
  result.channels[0].nominal = std::numeric_limits<double>::denorm_min();
  result.channels[0].coin.smallest = -std::numeric_limits<double>::max();
  result.channels[0].coin.largest = -0.0;
  result.windows[0].criteria[0].lower = -std::numeric_limits<double>::infinity();
  result.windows[0].criteria[0].channel.reset();
  const study::Result back = read_result_json(result_json(result, Times::keep));
  CHECK(back == result);
  CHECK(std::signbit(back.channels[0].coin.largest));
}

TEST_CASE("The file is plain JSON with null and a status where a number is not finite") {
  const auto file = nlohmann::json::parse(result_json(invented_result(), Times::keep));
  CHECK(file.at("format") == "mintspread result");
  CHECK(file.at("version") == "1.0");
  const auto& limit = file.at("windows").at(0).at("criteria").at(2);
  CHECK(limit.at("upper").is_null());
  CHECK(limit.at("upper_status") == "infinite");
  const auto& through = file.at("nominal").at("impedances").back();
  CHECK(through.at("normalised_resistance").is_null());
  CHECK(through.at("normalised_resistance_status") == "undefined");
  CHECK_FALSE(file.at("windows").at(2).contains("worst"));
}

TEST_CASE("Without times two runs of one study give the same file") {
  study::Result first = invented_result(), second = invented_result();
  second.provenance.seconds = 9.0;
  second.provenance.threads = 7;
  CHECK(result_json(first, Times::keep) != result_json(second, Times::keep));
  const std::string timeless = result_json(first, Times::leave_out);
  CHECK(timeless == result_json(second, Times::leave_out));
  CHECK(timeless.find("seconds") == std::string::npos);
  CHECK(read_result_json(timeless).provenance.threads == 0);
}

TEST_CASE("A later minor version with unknown keys is read, another major version is refused") {
  const std::string text = result_json(invented_solid_result(), Times::keep);
  const std::string later =
      replaced(replaced(text, "\"1.0\"", "\"1.7\""), "\"coin\":", "\"shares\": [1, {}], \"coin\":");
  CHECK(read_result_json(later) == invented_solid_result());
  const Problem problem = problem_of(replaced(text, "\"1.0\"", "\"2.0\""));
  CHECK(problem.path == "version");
  CHECK(problem.what.find("version 2.0") != std::string::npos);
  CHECK_FALSE(problem.remedy.empty());
}

TEST_CASE("A file that is not a result is refused with its place") {
  const std::string text = result_json(invented_solid_result(), Times::keep);
  CHECK(problem_of(text.substr(0, text.size() / 2)).what.find("not JSON") != std::string::npos);
  CHECK(problem_of("[]").what.find("not a mintspread result") != std::string::npos);
  CHECK(problem_of("{\"format\": \"mintspread coin 1\"}").path == "format");
  CHECK(problem_of(replaced(text, "\"1.0\"", "\"1\"")).path == "version");
  CHECK(problem_of(replaced(text, "\"kind\"", "\"kinds\"")).path == "channels[0].kind");
  CHECK(problem_of(replaced(text, "\"nominal\": 5.02", "\"nominal\": \"5.02\"")).path == "channels[0].nominal");
  CHECK(problem_of(replaced(text, "\"nominal\": 5.02", "\"nominal\": null")).path == "channels[0].nominal");
  CHECK(problem_of(replaced(text, "\"seed\": 1", "\"seed\": -1")).path == "provenance.seed");
}

TEST_CASE("A position that names nothing is refused, so that no report follows it") {
  auto result = invented_result();
  result.windows[1].worst = 99;
  CHECK(problem_of(result_json(result, Times::keep)).path == "windows[1].worst");
  result = invented_result();
  result.windows[0].criteria[1].channel = 99;
  CHECK(problem_of(result_json(result, Times::keep)).path == "windows[0].criteria[1].channel");
  result = invented_result();
  result.channels[0].budget->entries[2].input = 99;
  CHECK(problem_of(result_json(result, Times::keep)).path == "channels[0].budget.entries[2].input");
}

TEST_CASE("Positions and lengths in a sample are checked, so that no drawing follows wrong ones") {
  const auto path_of = [](const auto& spoil) {
    auto result = invented_result();
    spoil(*result.joint);
    return problem_of(result_json(result, Times::keep)).path;
  };
  CHECK(path_of([](auto& joint) { joint.correlations[3].second = 99; }) == "joint.correlations[3].second");
  CHECK(path_of([](auto& joint) { joint.lines[1].set = 9; }) == "joint.lines[1].set");
  CHECK(path_of([](auto& joint) { joint.lines[0].criterion = 99; }) == "joint.lines[0].criterion");
  CHECK(path_of([](auto& joint) { joint.lines[0].y.pop_back(); }) == "joint.lines[0].y");
  CHECK(path_of([](auto& joint) { joint.sample.readings.pop_back(); }) == "joint.sample.readings");
  CHECK(path_of([](auto& joint) { joint.sample.readings[2].pop_back(); }) == "joint.sample.readings[2]");
  CHECK(path_of([](auto& joint) { joint.sample.fair = 9999; }) == "joint.sample.fair");
  CHECK(path_of([](auto& joint) { joint.sample.rejects[0].positions[0] = 999; }) ==
        "joint.sample.rejects[0].positions");
}

TEST_CASE("A reading without a value survives the file as null") {
  auto result = invented_result();
  result.joint->sample.readings[4][7] = std::nan("");
  const std::string text = result_json(result, Times::keep);
  CHECK(nlohmann::json::parse(text).at("joint").at("sample").at("readings").at(4).at(7).is_null());
  CHECK(std::isnan(read_result_json(text).joint->sample.readings[4][7]));
  CHECK(problem_of(replaced(text, "\"readings\": [", "\"readings\": [\"x\", ")).path == "joint.sample.readings[0]");
}

TEST_CASE("Text of any kind survives the file, and broken UTF-8 does not break it") {
  study::Result result = invented_solid_result();
  result.coin = "</script>\"\\ \n\t caf\xc3\xa9 \x01";
  CHECK(read_result_json(result_json(result, Times::keep)) == result);
  result.coin = "\xff";
  CHECK(read_result_json(result_json(result, Times::keep)).coin == "\xef\xbf\xbd");
}

TEST_CASE("A comparison is JSON of its own format, which is refused as a result") {
  study::Comparison comparison;
  comparison.first = "A";
  comparison.windows = {{"vending", {0.99, 0.98, {-0.01, study::Interval{-0.02, 0.0}, {}}}}};
  const std::string text = comparison_json(comparison);
  const auto file = nlohmann::json::parse(text);
  CHECK(file.at("format") == "mintspread comparison");
  CHECK(file.at("windows").at(0).at("accepted").at("difference").at("interval").at("lower") == -0.02);
  CHECK(problem_of(text).path == "format");
}

TEST_CASE("The JSON of the invented results is as stored") {
  check_golden("triple.json", result_json(invented_result(), Times::leave_out));
  check_golden("solid.json", result_json(invented_solid_result(), Times::leave_out));
}
