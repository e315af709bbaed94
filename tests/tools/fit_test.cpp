#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <string>

#include "tests/reference/oxide.hpp"
#include "tests/support/temporary_folder.hpp"
#include "tests/tools/run_program.hpp"

using Catch::Contains;
using mintspread::test::Ended;
using mintspread::test::run_program;

namespace {

std::string oxide_table() {
  std::string text = "lot,wafer,thickness (nm)\n";
  for (std::size_t i = 0; i < mintspread::test::oxide_thickness.size(); ++i)
    text += std::to_string(i / 9) + "," + std::to_string(i / 3 % 3) + "," +
            std::to_string(static_cast<int>(mintspread::test::oxide_thickness[i])) + "\n";
  return text;
}

std::string written(const mintspread::test::TemporaryFolder& folder, const std::string& text) {
  const std::string file = folder / "data.csv";
  std::ofstream(file, std::ios::binary) << text;
  return file;
}

}  // namespace

TEST_CASE("fit tells the published components of the oxide data and lines that are read again", "[slow]") {
  const mintspread::test::TemporaryFolder folder;
  const std::string file = written(folder, oxide_table());
  const Ended ended = run_program({"fit", file, "--column", "thickness", "--group", "lot", "--group", "wafer",
                                   "--repeatability", "2 nm", "--draws", "0", "--json", "-"});
  REQUIRE(ended.status == 0);
  const auto result = nlohmann::json::parse(ended.out);
  CHECK(result["format"] == "mintspread fit 1");
  CHECK(result["unit"] == "nm");
  CHECK(result["resolution"] == 1.0);
  // Mean and variances: data set Oxide of the R package nlme, REML by lme (standard deviations 11.397684, 5.988802,
  // 3.545341), computed with R.
  CHECK(result["mean"].get<double>() == Approx(2000.153).margin(5e-4));
  CHECK(std::sqrt(result["groups"][0]["variance"].get<double>()) == Approx(11.397684).margin(1e-5));
  CHECK(std::sqrt(result["groups"][2]["variance"].get<double>()) == Approx(3.545341).margin(1e-6));
  CHECK(result["gauge"]["error_variance"] == 4.0);
  // Within wafers, the gauge takes 4 of 12.57.
  CHECK_THAT(result["specification"]["by_group"].get<std::string>(),
             Contains("sd: 2.927 nm, varies: [11.4 nm per lot, 5.989 nm per wafer]"));
  // A specification whose thickness is the best line is accepted.
  const std::string line = result["shapes"][0]["specification"];
  const Ended check = run_program(
      {"check", std::string(MINTSPREAD_SPECS) + "/single-nickel.yaml", "--set", "bath.nickel.thickness=" + line});
  INFO(check.err);
  CHECK(check.status == 0);

  const std::string page = folder / "fit.html";
  const Ended told = run_program({"fit", file, "--column", "thickness", "--draws", "0", "--page", page});
  CHECK(told.status == 0);
  CHECK_THAT(mintspread::test::contents(page),
             Contains("<svg") && Contains("</html>") && !Contains("http:") && !Contains("nan"));
  CHECK_THAT(told.out, Contains("72 values in nm") && Contains("For a specification") && Contains("|"));
}

TEST_CASE("fit ends with 2 on bad tables and bad options, 3 when it cannot write, and leaves nothing half-written") {
  const mintspread::test::TemporaryFolder folder;
  const std::string file = written(folder, oxide_table()), json = folder / "out.json";
  const auto fails = [&](std::vector<std::string> arguments, int status, const std::string& message) {
    const Ended ended = run_program(arguments);
    INFO(ended.err);
    CHECK(ended.status == status);
    CHECK(ended.out.empty());
    CHECK_THAT(ended.err, Contains(message));
  };
  const std::string few = folder / "few.csv", equal = folder / "equal.csv", text = folder / "text.csv";
  std::ofstream(few) << "t\n1\n2\n3\n";
  std::ofstream(equal) << "t\n1\n1\n1\n1\n1\n1\n1\n1\n1\n1\n1\n";
  std::ofstream(text) << "t (um)\n1\nsoft\n";
  const std::string huge = folder / "huge.csv", tiny = folder / "tiny.csv";
  std::ofstream huge_table(huge), tiny_table(tiny);
  huge_table << "t\n", tiny_table << "t\n";
  for (int i = 1; i < 20; ++i) huge_table << i << "e300\n", tiny_table << i << "e-300\n";
  huge_table.close(), tiny_table.close();
  fails({"fit", file, "--column", "thickness", "--json", file}, 2, "is the table itself");
  fails({"fit", file, "--column", "thickness", "--json", json, "--page", json}, 2, "one place");
  fails({"fit", huge}, 2, "tell them in another unit");
  fails({"fit", tiny}, 2, "tell them in another unit");
  fails({"fit", folder / "none.csv"}, 2, "no such file");
  fails({"fit", few, "--json", json}, 2, "3 values of `t` are too few");
  fails({"fit", equal}, 2, "all 11 values of `t` are equal");
  fails({"fit", text}, 2, "text.csv:3:1: error");
  fails({"fit", file}, 2, "which column?");
  fails({"fit", file, "--column", "thicknes"}, 2, "Did you mean `thickness`?");
  fails({"fit", file, "--column", "thickness", "--bias", "2 s"}, 2, "is a time, but the column is a length");
  fails({"fit", file, "--column", "thickness", "--sorted", "20 nm"}, 2, "--sorted takes limits");
  fails({"fit", file, "--column", "thickness", "--sorted", "1990 nm .. 2010 nm", "--repeatability", "-1 nm"}, 2,
        "not negative");
  fails({"fit", file, "--column", "thickness", "--unit", "furlong"}, 2, "of --unit");
  fails({"fit", file, "--column", "thickness", "--draws", "0", "--json", "/nowhere/out.json"}, 3, "cannot write");
  CHECK_FALSE(std::filesystem::exists(json));
}

TEST_CASE("every line that fit prints for a specification is run as it stands") {
  // Invented: 60 barrels of three lots.
  const mintspread::test::TemporaryFolder folder;
  for (const auto& entry : std::filesystem::directory_iterator(MINTSPREAD_SPECS))
    std::filesystem::copy(entry.path(), folder.path() / entry.path().filename(),
                          std::filesystem::copy_options::recursive);
  std::string text = "strip lot,thickness [um]\n";
  for (int i = 0; i < 60; ++i)
    text += std::to_string(i / 20) + "," + std::to_string(10 + i / 20) + "." + std::to_string(10 + 37 * i % 80) + "\n";
  const std::string file = written(folder, text);
  const Ended ended =
      run_program({"fit", file, "--column", "thickness", "--group", "strip lot", "--draws", "0", "--json", "-"});
  INFO(ended.err);
  REQUIRE(ended.status == 0);
  const auto result = nlohmann::json::parse(ended.out);
  std::vector<std::string> lines{result["specification"]["values"], result["specification"]["by_group"]};
  for (const auto& shape : result["shapes"])
    if (shape.contains("specification") && !shape["specification"].is_null()) lines.push_back(shape["specification"]);
  REQUIRE(lines.size() >= 9);
  for (const std::string& line : lines) {
    const Ended run = run_program({"run", folder / "single-nickel.yaml", "--planar", "--no-store", "--coins", "2000",
                                   "--outer", "0", "--quiet", "--set", "bath.nickel.thickness=" + line, "--json", "-"});
    INFO(line << run.err);
    CHECK(run.status < 2);
    REQUIRE(run.out.size() > 2);
    for (const auto& input : nlohmann::json::parse(run.out)["inputs"])
      if (input["path"] == "bath.nickel.thickness")
        CHECK(input["mean"].get<double>() * 1e6 == Approx(result["mean"].get<double>()).epsilon(0.02));
  }
}

TEST_CASE("the values themselves are told as a line only where a specification can read their table") {
  const mintspread::test::TemporaryFolder folder;
  const auto fitted = [&](const std::string& text, std::vector<std::string> more = {}) {
    std::vector<std::string> arguments{"fit", written(folder, text), "--column", "t", "--draws", "0"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Ended told = run_program(arguments);
    arguments.insert(arguments.end(), {"--json", "-"});
    const Ended ended = run_program(arguments);
    REQUIRE(ended.status == 0);
    const auto lines = nlohmann::json::parse(ended.out)["specification"];
    CHECK(lines["values"].is_null() == !lines["values_obstacle"].is_null());
    CHECK((told.out.find("the values themselves: not as they stand") != std::string::npos) ==
          lines["values"].is_null());
    return lines["values"].is_null() ? lines["values_obstacle"].get<std::string>() : std::string();
  };
  std::string plain = "n,t (um)\n", semicolons = "n;t (um)\n";
  for (int i = 0; i < 10; ++i) {
    plain += "1,17." + std::to_string(10 + 7 * i) + "\n";
    semicolons += "1;17," + std::to_string(10 + 7 * i) + "\n";
  }
  CHECK(fitted(plain).empty());
  CHECK(fitted(plain + "1,\n").empty());
  CHECK_THAT(fitted(semicolons), Contains("separated by commas, with decimal points"));
  CHECK_THAT(fitted(plain + "1,< 17.1\n"), Contains("only a bound is known"));
  CHECK_THAT(fitted(plain + "1,NA\n"), Contains("leave the cells empty"));
  CHECK_THAT(fitted(plain, {"--repeatability", "0.01 um"}), Contains("--gauge"));
}

TEST_CASE("ten million rows are fitted, and told to be too many for a specification's table", "[slow]") {
  const mintspread::test::TemporaryFolder folder;
  const std::string file = folder / "many.csv";
  std::ofstream table(file, std::ios::binary);
  table << "t (um)\n";
  // A Kronecker sequence through the quantiles of a triangle on 17 .. 19 um: mean 18, sd 1 / sqrt(6).
  std::string text;
  double u = 0.5;
  for (int block = 0; block < 100; ++block) {
    text.clear();
    for (int i = 0; i < 100000; ++i) {
      u = std::fmod(u + 0.6180339887498949, 1.0);
      const double value = u < 0.5 ? 17.0 + std::sqrt(2.0 * u) : 19.0 - std::sqrt(2.0 * (1.0 - u));
      text += std::to_string(value).substr(0, 6) + "\n";
    }
    table << text;
  }
  table.close();
  const Ended ended = run_program({"fit", file, "--draws", "0", "--json", "-"});
  REQUIRE(ended.status == 0);
  const auto result = nlohmann::json::parse(ended.out);
  CHECK(result["rows"] == 10000000);
  CHECK(result["values"] == 10000000);
  CHECK(result["mean"].get<double>() == Approx(18.0 - 0.0005).margin(1e-5));  // digits cut off, not rounded
  CHECK(result["sd"].get<double>() == Approx(1.0 / std::sqrt(6.0)).margin(1e-5));
  CHECK(result["shapes"][0]["shape"] == "triangular");
  CHECK_THAT(result["specification"]["values_obstacle"].get<std::string>(), Contains("larger than the 64 MiB"));
}

TEST_CASE("fit says what of a gauge's error does not fit into the spread") {
  const mintspread::test::TemporaryFolder folder;
  const std::string file = written(folder, oxide_table());
  const Ended ended = run_program({"fit", file, "--column", "thickness", "--repeatability", "20 nm", "--draws", "0"});
  CHECK(ended.status == 0);
  CHECK_THAT(ended.out, Contains("is not below that of the readings") && Contains("nothing is left of its spread"));
}

TEST_CASE("several gauges of the same pieces are combined by their precision, and one that is off is named") {
  // Twelve invented pieces; the second gauge has twice the repeatability and reads 1 um too much without saying so.
  const mintspread::test::TemporaryFolder folder;
  std::string text = "fine (um);coarse [mm]\n";
  for (int i = 0; i < 12; ++i) text += std::to_string(20 + i % 5) + ",5;0,0" + std::to_string(21 + i % 5) + "5\n";
  const std::string file = written(folder, text), fine = folder / "fine.yaml", coarse = folder / "coarse.yaml";
  const std::string head = "format: mintspread gauge 1\ngauge: {name: ", kind = "}\nreads: non-magnetic layers\n";
  std::ofstream(fine) << head << "fine" << kind << "repeatability: 0.1 um\n";
  std::ofstream(coarse) << head << "coarse" << kind << "repeatability: 0.2 um\nrange: 10 um .. 25 um\n";
  const Ended ended = run_program({"fit", file, "--column", "fine", "--column", "coarse", "--gauge", fine, "--gauge",
                                   coarse, "--draws", "0", "--json", "-"});
  INFO(ended.err);
  REQUIRE(ended.status == 0);
  const auto gauge = nlohmann::json::parse(ended.out)["gauge"];
  // Weights 4/5 and 1/5; variance of the weighted mean 1 / (1 / 0.1^2 + 1 / 0.2^2) = 0.008.
  CHECK(gauge["gauges"][0]["weight"].get<double>() == Approx(0.8));
  CHECK(gauge["error_variance"].get<double>() == Approx(0.008));
  CHECK(gauge["gauges"][0]["difference_from_all"].get<double>() == Approx(-0.2));
  CHECK(gauge["gauges"][1]["difference_from_all"].get<double>() == Approx(0.8));
  CHECK(gauge["gauges"][1]["readings_outside_range"] == 2);
  const Ended told = run_program(
      {"fit", file, "--column", "fine", "--column", "coarse", "--gauge", fine, "--gauge", coarse, "--draws", "0"});
  CHECK_THAT(told.out, Contains("coarse disagrees with the others"));

  CHECK(run_program({"fit", file, "--column", "fine", "--column", "coarse"}).status == 2);
  CHECK(run_program({"fit", file, "--column", "fine", "--gauge", fine, "--bias", "1 um"}).status == 2);
  const std::string rim = folder / "rim.yaml", face = folder / "face.yaml";
  const std::string layer = "}\nreads: layer thickness\nlayer: copper\nrepeatability: 0.1 um\nat: ";
  std::ofstream(rim) << head << "rim bench" << layer << "rim\n";
  std::ofstream(face) << head << "bench" << layer << "face mean\n";
  const Ended apart =
      run_program({"fit", file, "--column", "fine", "--column", "coarse", "--gauge", rim, "--gauge", face});
  CHECK(apart.status == 2);
  CHECK_THAT(apart.err, Contains("mean of the face, but") && Contains("on the rim: their readings cannot be combined"));
  const Ended missing = run_program({"fit", file, "--column", "fine", "--gauge", folder / "none.yaml"});
  CHECK(missing.status == 2);
  CHECK_THAT(missing.err, Contains("none.yaml"));
}

TEST_CASE("a gauge of few readings leaves a wider interval than the same gauge as stated") {
  const mintspread::test::TemporaryFolder folder;
  const std::string file = written(folder, oxide_table());
  const auto left = [&](const std::string& basis) {
    const std::string gauge = folder / "gauge.yaml";
    std::ofstream(gauge) << "format: mintspread gauge 1\ngauge: {name: bench}\nreads: non-magnetic layers\n"
                            "repeatability: 6 nm\n"
                         << basis;
    const Ended ended =
        run_program({"fit", file, "--column", "thickness", "--gauge", gauge, "--draws", "0", "--json", "-"});
    INFO(ended.err);
    REQUIRE(ended.status == 0);
    return nlohmann::json::parse(ended.out)["gauge"];
  };
  const auto stated = left(""), few = left("basis: measured n=10\n");
  CHECK(few["variance_left"] == stated["variance_left"]);
  CHECK(few["gauges"][0]["repeatability_readings"] == 10.0);
  const double variance = stated["variance_left"],
               below = variance - stated["variance_left_interval_95"][0].get<double>(),
               above = stated["variance_left_interval_95"][1].get<double>() - variance;
  // 36 lies in 36 x 9 / 19.02277 .. 36 x 9 / 2.70039.
  CHECK(few["variance_left_interval_95"][0].get<double>() ==
        Approx(variance - std::hypot(below, 36.0 * (9.0 / 2.70039 - 1.0))).epsilon(1e-5));
  CHECK(few["variance_left_interval_95"][1].get<double>() ==
        Approx(variance + std::hypot(above, 36.0 * (1.0 - 9.0 / 19.02277))).epsilon(1e-5));
}

TEST_CASE("a bias that few readings told leaves the mean less certain, and gauges less apart") {
  const mintspread::test::TemporaryFolder folder;
  std::string text = "fine (um),coarse (um)\n";
  for (int i = 0; i < 12; ++i) text += std::to_string(20 + i % 5) + ".5," + std::to_string(20 + i % 5) + ".85\n";
  const std::string file = written(folder, text), fine = folder / "fine.yaml", coarse = folder / "coarse.yaml";
  const std::string head = "format: mintspread gauge 1\ngauge: {name: ", kind = "}\nreads: non-magnetic layers\n";
  std::ofstream(fine) << head << "fine" << kind << "repeatability: 0.12 um\n";
  const auto fitted_by = [&](const std::string& freedom, bool both) {
    std::ofstream(coarse) << head << "coarse" << kind << "repeatability: 0.12 um\nbias uncertainty: 0.15 um\n"
                          << freedom;
    std::vector<std::string> arguments = {"fit", file,       "--draws", "0",       "--json",
                                          "-",   "--column", "coarse",  "--gauge", coarse};
    if (both) arguments.insert(arguments.end(), {"--column", "fine", "--gauge", fine});
    const Ended ended = run_program(arguments);
    INFO(ended.err);
    REQUIRE(ended.status == 0);
    return nlohmann::json::parse(ended.out);
  };
  // Means 0.35 apart, 0.175 from both together; of that (0.12^2 / 12 + 0.15^2 + 0.12^2 / 12) / 4 is the variance.
  const double variance = (2 * 0.0012 + 0.0225) / 4;
  const auto known = fitted_by("", true)["gauge"]["gauges"][0];
  CHECK(known["difference_from_all"].get<double>() == Approx(0.175));
  CHECK(known["difference_uncertainty"].get<double>() == Approx(std::sqrt(variance)));
  CHECK(known["difference_expanded_uncertainty_95"].get<double>() == Approx(1.959964 * std::sqrt(variance)));
  CHECK(known["bias_degrees_of_freedom"].is_null());
  // Effective degrees of freedom 3 (0.0249 / 0.0225)^2 = 3.674; t at 0.975 by a numerical integral of its density.
  const auto few = fitted_by("bias degrees of freedom: 3\n", true)["gauge"]["gauges"][0];
  CHECK(few["difference_uncertainty"] == known["difference_uncertainty"]);
  CHECK(few["difference_expanded_uncertainty_95"].get<double>() == Approx(2.87631 * std::sqrt(variance)).epsilon(1e-4));
  // One alone: its mean scatters by the sd over sqrt(12), with 11 degrees of freedom.
  const auto one = fitted_by("bias degrees of freedom: 3\n", false);
  const double scatter = one["mean_uncertainty"].get<double>(), sum = scatter * scatter + 0.0225;
  CHECK(one["gauge"]["mean_uncertainty"].get<double>() == Approx(std::sqrt(sum)));
  const auto interval = one["gauge"]["mean_interval_95"];
  const double half = 0.5 * (interval[1].get<double>() - interval[0].get<double>());
  CHECK(half > 1.96 * std::sqrt(sum));
  CHECK(0.5 * (interval[1].get<double>() + interval[0].get<double>()) == Approx(one["mean"].get<double>()));
}

TEST_CASE("fit and check take the same error out of the measured bath of the example", "[slow]") {
  const std::string specs = MINTSPREAD_SPECS;
  const Ended fit = run_program({"fit", specs + "/measured/invented-nickel.csv", "--column", "nickel", "--gauge",
                                 specs + "/gauges/cross-sections.yaml", "--draws", "0", "--json", "-"});
  REQUIRE(fit.status == 0);
  const auto result = nlohmann::json::parse(fit.out);
  const double left = result["gauge"]["variance_left"].get<double>();
  // The specification leaves rounding in, a step of 0.1 um: 0.0008 um2.
  const Ended check = run_program({"check", specs + "/single-nickel.yaml"});
  char sd[32];
  std::snprintf(sd, sizeof sd, "sd %.3f um", std::sqrt(left + 0.01 / 12.0));
  INFO(check.out);
  CHECK_THAT(check.out, Contains(sd));
}

TEST_CASE("weighing several pieces together hides their spread, which fit restores within the group") {
  // Invented: 10 barrels, two weighings of four pieces each, a gain that differs by 2 d within a barrel. Within: d^2
  // * 2.
  const mintspread::test::TemporaryFolder folder;
  std::string text = "barrel,gain (mg)\n";
  for (int b = 0; b < 10; ++b)
    for (const int side : {-1, 1}) text += std::to_string(b) + "," + std::to_string(120 + b + 2 * side) + "\n";
  const std::string file = written(folder, text), gauge = folder / "scale.yaml";
  std::ofstream(gauge) << "format: mintspread gauge 1\ngauge: {name: scale}\nreads: weight gain\npieces: 4\n"
                          "repeatability: 2 mg\n";
  const Ended ended = run_program(
      {"fit", file, "--column", "gain", "--group", "barrel", "--gauge", gauge, "--draws", "0", "--json", "-"});
  INFO(ended.err);
  REQUIRE(ended.status == 0);
  const auto result = nlohmann::json::parse(ended.out);
  CHECK(result["groups"][1]["variance"].get<double>() == Approx(8.0));
  // 8 read, 4 of the scale, the other 4 of means of four pieces: 16 of single ones. Between barrels nothing changes:
  // (2 * 55 / 6 - 8) / 2, the variance of 0 .. 9 being 55 / 6.
  CHECK_THAT(result["specification"]["by_group"].get<std::string>(),
             Contains("sd: 4 mg, varies: [2.273 mg per barrel]"));
  CHECK(result["shapes"][0]["specification"].is_null());
}
