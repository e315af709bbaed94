// Gauges of every kind, from their files to the spread that is left, by `fit` and in a specification.
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <string>

#include "tests/support/temporary_folder.hpp"
#include "tests/tools/run_program.hpp"

using Catch::Contains;
using mintspread::test::run_program;

namespace {

void write(const std::string& file, const std::string& text) { std::ofstream(file, std::ios::binary) << text; }

/// Twenty readings about `mean`, half on each side, whose standard deviation (divisor 19) is `sd`.
std::string readings(const std::string& heading, double mean, double sd) {
  std::string text = heading + "\n";
  const double aside = sd * std::sqrt(19.0 / 20.0);
  char line[32];
  for (int i = 0; i < 20; ++i) {
    std::snprintf(line, sizeof line, "%.6f\n", mean + (i % 2 ? aside : -aside));
    text += line;
  }
  return text;
}

}  // namespace

TEST_CASE("every kind of gauge takes itself out of what it read, by fit and in a specification") {
  struct Kind {
    std::string gauge, heading;
    double mean, sd;
    std::string left;  ///< as `check` tells it
    double variance;   ///< of the pieces' means that is left, as `fit` tells it
  };
  const mintspread::test::TemporaryFolder folder;
  const std::string specs = MINTSPREAD_SPECS, table = folder / "t.csv", gauge = folder / "g.yaml",
                    coin = folder / "coin.yaml";
  write(coin, "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: " + specs +
                  "/materials/handbook.yaml\nsensor: " + specs +
                  "/sensors/bench-slot.yaml\nroute:\n"
                  "  - blank: {material: low-carbon steel, thickness: 1.5 mm, rimmed diameter: 21.7 mm}\n"
                  "  - bath: {name: skin, material: copper acid, thickness: {data: {file: t.csv, column: t, gauge: "
                  "g.yaml}}}\n");
  // 0.5 read and 0.3 of the gauge leave 0.4, whatever is read.
  for (const Kind& kind : {Kind{"reads: layer thickness\nlayer: skin\nbias: 1 um\nrepeatability: 0.3 um\n", "t (um)",
                                20.0, 0.5, "mean 19 um, sd 0.4 um", 0.16},
                           Kind{"reads: non-magnetic layers\nbias: 25 %\nrepeatability: 0.375 um\n", "t (um)", 25.0,
                                0.625, "mean 20 um, sd 0.4 um", 0.16},
                           Kind{"reads: mass of an element\nelement: Cu\nrepeatability: 0.3 mg/cm2\n", "t (mg/cm2)",
                                18.0, 0.5, "mean 18 mg/cm2, sd 0.4 mg/cm2", 0.16},
                           // Means of 25 pieces: single ones spread five times as much.
                           Kind{"reads: weight gain\npieces: 25\nrepeatability: 0.3 mg\n", "t (mg)", 160.0, 0.5,
                                "mean 160 mg, sd 2 mg", 0.16},
                           // 60 degrees off the normal everything is twice as long.
                           Kind{"reads: chord of a section\nlayer: skin\ntilt: 60 deg\nrepeatability: 0.6 um\n",
                                "t (um)", 40.0, 1.0, "mean 20 um, sd 0.4 um", 0.16}}) {
    INFO(kind.gauge);
    write(table, readings(kind.heading, kind.mean, kind.sd));
    write(gauge, "format: mintspread gauge 1\ngauge: {name: bench}\n" + kind.gauge);
    const auto check = run_program({"check", coin});
    INFO(check.err);
    CHECK(check.status == 0);
    const std::string words = std::regex_replace(check.out, std::regex("\\s+"), " ");  // not broken into lines
    CHECK_THAT(words, Contains(kind.left));
    const auto fit = run_program({"fit", table, "--column", "t", "--gauge", gauge, "--draws", "0", "--json", "-"});
    INFO(fit.err);
    REQUIRE(fit.status == 0);
    CHECK(nlohmann::json::parse(fit.out)["gauge"]["variance_left"].get<double>() ==
          Approx(kind.variance).epsilon(1e-4));
  }
}
