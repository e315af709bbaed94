#include "specs/measurements.hpp"

#include <catch2/catch.hpp>
#include <fstream>

#include "tests/support/temporary_folder.hpp"

using namespace mintspread;
using namespace mintspread::specs;
using Catch::Contains;

namespace {

struct Taken {
  ReadTable table;
  std::vector<Reading> readings;
  std::vector<std::string> groups;
};

Taken take(const std::string& text, const std::vector<std::string>& columns = {"t"},
           const std::vector<std::string>& groups = {}) {
  const test::TemporaryFolder folder;
  const std::string file = folder / "data.csv";
  std::ofstream(file, std::ios::binary) << text;
  Taken taken;
  taken.table = read_measurements(file, columns, groups,
                                  [&](std::span<const Reading> readings, std::span<const std::string_view> names) {
                                    taken.readings.push_back(readings.front());
                                    for (std::string_view name : names) taken.groups.emplace_back(name);
                                  });
  return taken;
}

std::string refusal(const std::string& text, const std::vector<std::string>& columns = {"t"},
                    const std::vector<std::string>& groups = {}) {
  try {
    take(text, columns, groups);
    return "";
  } catch (const RejectedSpecification& rejected) {
    std::string all;
    for (const Diagnostic& d : rejected.diagnostics) all += render(d, Colour::none);
    return all.substr(all.find("data.csv"));
  }
}

}  // namespace

TEST_CASE("a table of measurements is read whichever way it is written") {
  const auto plain = take("t (um),lot\n1.50,A\n\"2.25\",\"B, late\"\r\n , A\n<0.5,A\n>= 30,A\nNA,A\n", {"t"}, {"lot"});
  REQUIRE(plain.readings.size() == 6);
  CHECK(plain.readings[0].value == 1.5);
  CHECK(plain.readings[1].value == 2.25);
  CHECK(plain.readings[2].kind == Reading::Kind::gap);
  CHECK(plain.readings[3].kind == Reading::Kind::below);
  CHECK(plain.readings[3].value == 0.5);
  CHECK(plain.readings[4].kind == Reading::Kind::above);
  CHECK(plain.readings[5].kind == Reading::Kind::gap);
  CHECK(plain.groups[1] == "B, late");
  CHECK(plain.table.columns[0].unit == "um");
  CHECK(plain.table.columns[0].gaps == 2);
  CHECK(plain.table.columns[0].decimals == 2);

  const auto european = take("\xEF\xBB\xBFt [\u00B5m];n\n1,5;1\n-2,25;2\n", {"t"});
  CHECK(european.readings[1].value == -2.25);
  CHECK(european.table.columns[0].unit == "um");
  CHECK(european.table.decimal_commas);
  CHECK(take("t\tn\n1.5\t2\n").readings[0].value == 1.5);
  CHECK(take("anything\n1.5\n2\n", {}).readings[1].value == 2);
  CHECK(take("t\n1.5e-5\n").table.columns[0].decimals == 6);
  CHECK(take("t,\"a\nb\"\n1,x\n").readings.size() == 1);
}

TEST_CASE("what cannot be read is told with its place, all of it at once") {
  const std::string both = refusal("t,n\nhello,1\n2,3,4\n\"1,5\",1\n");
  CHECK_THAT(both, Contains("data.csv:2:1: error: a cell of the measured column is no number: `hello`"));
  CHECK_THAT(both, Contains("data.csv:3:1: error: this row has 3 fields, but the heading has 2"));
  CHECK_THAT(both, Contains("data.csv:4:1: error") && Contains("a comma stands in the number"));
  CHECK_THAT(refusal("t\ninf\n"), Contains("data.csv:2:1"));
  CHECK_THAT(refusal("n\n1\n"), Contains("no column `t`"));
  CHECK_THAT(refusal("t,t\n1,2\n"), Contains("stands twice"));
  CHECK_THAT(refusal("a,b\n1,2\n", {}), Contains("which column? The table has `a`, `b`"));
  CHECK_THAT(refusal("t\n1\n", {"t"}, {"lot"}), Contains("no column `lot`, which --group names"));
  CHECK_THAT(refusal("t\n1\n", {"t"}, {"t"}), Contains("as measured and as a group"));
  CHECK_THAT(refusal("t\n\"1\n"), Contains("data.csv:2:1: error: the quote that opens here is never closed"));
  CHECK_THAT(refusal("t\n\"1\"2\n"), Contains("data.csv:2:4: error: text follows the closing quote"));
  CHECK_THAT(refusal("1.5\n2\n", {"1.5"}), Contains("holds a number, where the names of the columns belong"));
  CHECK_THAT(refusal("t\n\xFF\n"), Contains("data.csv:2:1: error: this byte is not UTF-8"));
  CHECK_THAT(refusal(""), Contains("the table is empty"));
  std::string many = "t\n";
  for (int i = 0; i < 50; ++i) many += "x\n";
  CHECK_THAT(refusal(many), Contains("40 more cells cannot be read"));
  try {
    read_measurements("no such table.csv", {}, {}, {});
    FAIL();
  } catch (const RejectedSpecification& rejected) {
    CHECK_THAT(render(rejected.diagnostics[0], Colour::none), Contains("no such file"));
  }
}
