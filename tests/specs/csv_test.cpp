#include "specs/csv.hpp"

#include <catch2/catch.hpp>
#include <cmath>

#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using namespace mintspread::test;
using Catch::Contains;

namespace {

const std::string ten = "t\n17\n18\n19\n18.5\n17.5\n18.2\n17.8\n18.1\n17.9\n18\n";

struct Table {
  std::optional<specs::CsvColumn> column;
  std::string said;
};

Table table(const std::string& text, const std::string& column = "t") {
  const specs::Source source("gauge.csv", "", text), asked("coin.yaml", "", "data: {column: t}\n");
  specs::Findings findings;
  Table out;
  out.column = specs::read_csv_column(source, column, {&asked, 6}, "x", findings);
  for (const specs::Diagnostic& d : findings.sorted()) out.said += specs::render(d, specs::Colour::none);
  return out;
}

std::map<std::string, std::string> with_table(const std::string& text,
                                              const std::string& data = "file: gauge.csv, column: t, unit: um",
                                              const std::string& keys = "") {
  auto files = coin_with("{data: {" + data + "}" + keys + "}");
  files["gauge.csv"] = text;
  return files;
}

study::Input measured(const std::map<std::string, std::string>& files) {
  return input(read(files), "section.layers.skin.thickness");
}

}  // namespace

TEST_CASE("a column is read from RFC 4180 text in all its forms") {
  CHECK(table(ten).column->values.size() == 10);
  CHECK(table(ten).column->values[3] == 18.5);
  std::string crlf;
  for (char c : ten) crlf += c == '\n' ? std::string("\r\n") : std::string(1, c);
  CHECK(table(crlf).column->values == table(ten).column->values);
  CHECK(table("\xEF\xBB\xBF" + ten).column->values.size() == 10);
  CHECK(table(ten.substr(0, ten.size() - 1)).column->values.size() == 10);
  std::string wide = "no,\"a, \"\"b\"\"\nc\",t\n";
  for (int i = 0; i < 12; ++i) wide += std::to_string(i) + ",\"x,\ny\",\"1" + std::to_string(i) + ".5\"\n";
  CHECK(table(wide).column->values[2] == 12.5);
  CHECK(table("t [um]" + ten.substr(1)).column->heading_unit == "um");
  CHECK(table("t (um)" + ten.substr(1)).column->heading_unit == "um");
  CHECK(table("t [um]" + ten.substr(1), "t [um]").column->values.size() == 10);
  CHECK(table("a,t\n" + std::string("1,\n") + "1,1\n1,2\n1,3\n1,4\n1,5\n1,6\n1,7\n1,8\n1,9\n1,10\n").column->empty ==
        1);
}

TEST_CASE("a table that cannot be read is refused cell by cell") {
  CHECK_THAT(table("t\n1\n2\nn/a\n3\n").said,
             Contains("gauge.csv:4:1: error: x: a cell of the measured column is no number: `n/a`"));
  CHECK_THAT(table("a,t\n1,2\n1,1,5\n").said,
             Contains("gauge.csv:3:1: error") && Contains("3 fields") && Contains("decimal points"));
  CHECK_THAT(table("t\n\"1,5\"\n").said, Contains("gauge.csv:2:3: error") && Contains("`1.5`"));
  CHECK_THAT(table("a;t\n1;2\n").said, Contains("semicolons"));
  CHECK_THAT(table("thick,other\n1,2\n", "thicc").said,
             Contains("coin.yaml:1:7: error") && Contains("Did you mean `thick`?"));
  CHECK_THAT(table("t,t\n1,2\n").said, Contains("twice"));
  CHECK_THAT(table("").said, Contains("empty"));
  CHECK_THAT(table("t\n1\n2\n").said, Contains("2 values are too few"));
  CHECK_THAT(table("t\n\"1\n").said, Contains("never closed"));
  CHECK_THAT(table("t\n\"1\"2\n").said, Contains("2:4: error") && Contains("follows the closing quote"));
  CHECK_THAT(table("t\n\xE4\n").said, Contains("UTF-8"));
  CHECK_THAT(table("t\nnan\n").said, Contains("not a finite number"));
  std::string all_text = "t\n";
  for (int i = 0; i < 50; ++i) all_text += "x\n";
  CHECK_THAT(table(all_text).said, Contains("40 more cells"));
}

TEST_CASE("measured data are deviations from their mean, or from the stated value without being moved") {
  const auto i = measured(with_table(ten));
  const auto own = std::get<sampling::Measured>(i.components[0].deviation);
  CHECK(i.nominal == Approx(18e-6));
  CHECK(own.bandwidth == 0.0);
  REQUIRE(own.sorted.size() == 10);
  CHECK(std::is_sorted(own.sorted.begin(), own.sorted.end()));
  CHECK(own.sorted.front() == Approx(-1e-6));
  CHECK(i.basis == study::Basis::measured);
  CHECK(i.basis_note == "n = 10, gauge.csv");
  CHECK_THAT(i.understood, Contains("10 values of gauge.csv, column t") && Contains("between order statistics"));
  const auto stated = measured(with_table(ten, "file: gauge.csv, column: t, unit: um", ", value: 17 um +/- 2 um"));
  CHECK(stated.nominal == Approx(17e-6));
  CHECK(std::get<sampling::Measured>(stated.components[0].deviation).sorted.front() == Approx(0).margin(1e-18));
  CHECK(stated.tolerance.upper == Approx(19e-6));
}

TEST_CASE("smoothing takes the width of Silverman's rule") {
  const auto i = measured(with_table(ten, "file: gauge.csv, column: t, unit: um, smooth: true"));
  // B. W. Silverman, Density Estimation, 1986, eq. 3.31 (from memory). numpy 1.24: np.std(ddof=1) = 0.5374838498865699,
  // np.subtract(*np.percentile(x, [75, 25])) = 0.35, so 0.9 * (0.35 / 1.34) * 10 ** -0.2.
  // Kernel and values are then drawn together by 1 / sqrt(1 + width^2 / sd^2), so that the variance stays.
  const double width = 0.9 * 0.35 / 1.34 * std::pow(10, -0.2);
  CHECK(std::get<sampling::Measured>(i.components[0].deviation).bandwidth ==
        Approx(width / std::sqrt(1 + std::pow(width / 0.5374838498865699, 2)) * 1e-6));
}

TEST_CASE("a sorted measured quantity keeps what lies within the tolerance") {
  const auto i =
      measured(with_table(ten, "file: gauge.csv, column: t, unit: um", ", value: 18 um +/- 0.6 um, sorted: true"));
  const auto cut = std::get<std::shared_ptr<const sampling::Truncated>>(i.components[0].deviation);
  CHECK(cut->lower == Approx(-0.6e-6));
  CHECK_THAT(
      refusal(with_table(ten, "file: gauge.csv, column: t, unit: um", ", value: 30 um +/- 0.6 um, sorted: true")),
      Contains("no measured values are left"));
}

TEST_CASE("measured data are held against units, bounds and the rest of the quantity") {
  CHECK_THAT(refusal(with_table(ten, "file: gauge.csv, column: t, unit: MS/m")),
             Contains("a conductivity stands here, where a length is wanted"));
  CHECK_THAT(refusal(with_table(ten, "file: gauge.csv, column: t")), Contains("no unit"));
  CHECK_THAT(refusal(with_table(ten, "file: gage.csv, column: t, unit: um")),
             Contains("`gage.csv` cannot be read: no such file"));
  CHECK_THAT(refusal(with_table("t\n-5" + ten.substr(1), "file: gauge.csv, column: t, unit: um")),
             Contains("gauge.csv:2:1: error") && Contains("a measured value is -5 um"));
  CHECK_THAT(refusal(with_table(ten, "file: gauge.csv, column: t, unit: um", ", sd: 1 um")),
             Contains("gives the whole distribution"));
  CHECK_THAT(refusal(with_table(ten, "file: gauge.csv, column: t, unit: um", ", shape: normal")),
             Contains("makes the shape `measured`"));
}

TEST_CASE("doubts about measured data are warnings") {
  const auto warnings = [](const std::map<std::string, std::string>& files) {
    std::string all;
    for (const auto& d : read(files).warnings) all += specs::render(d, specs::Colour::none);
    return all;
  };
  CHECK_THAT(warnings(with_table(ten)), Contains("10 values say little about the tails"));
  CHECK_THAT(warnings(with_table("t [mm]" + ten.substr(1))),
             Contains("the heading of the table says `mm`; the numbers are taken in `um`, as stated"));
  CHECK_THAT(warnings(with_table("a,t\n1,\n1,1\n1,2\n1,3\n1,4\n1,5\n1,6\n1,7\n1,8\n1,9\n1,10\n")),
             Contains("1 empty cells are left out"));
}

TEST_CASE("the hash changes with a measured value and not with the layout of its table") {
  const std::string hash = read(with_table(ten)).hash;
  CHECK(read(with_table("u,t\n1,17\n1,18\n1,19\n1,18.5\n1,17.5\n1,18.2\n1,17.8\n1,18.1\n1,17.9\n1,18.0\n")).hash ==
        hash);
  CHECK(read(with_table("t\n17\n18\n19\n18.5\n17.5\n18.2\n17.8\n18.1\n17.9\n18.01\n")).hash != hash);
}
