#include "specs/gauge.hpp"

#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <cmath>

#include "engine/sampling/law.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using namespace mintspread::specs;
using Catch::Contains;

namespace {

Gauge gauge(const std::string& text) {
  return read_gauge_file("g.yaml",
                         test::memory({{"g.yaml", "format: mintspread gauge 1\ngauge: {name: bench}\n" + text}}));
}

std::string refused(const std::string& text) {
  try {
    gauge(text);
    return "";
  } catch (const RejectedSpecification& rejected) {
    std::string all;
    for (const Diagnostic& d : rejected.diagnostics) all += render(d, Colour::none);
    return all;
  }
}

/// Ten readings in um with mean 20 and variance 0.25 (divisor 9), so that a gauge of 0.3 um leaves a variance of 0.16.
const double half = std::sqrt(0.25 * 9.0 / 10.0);

std::map<std::string, std::string> skin_by_gauge(const std::string& gauge_text, const std::string& more = "") {
  std::string table = "name,t (um)\n";
  for (int i = 0; i < 10; ++i) table += fmt::format("p{},{:.12f}\n", i, 20.0 + (i % 2 ? half : -half));
  auto files = test::coin_with("{data: {file: t.csv, column: t, gauge: g.yaml" + more + "}}");
  files["t.csv"] = table;
  files["g.yaml"] = "format: mintspread gauge 1\ngauge: {name: bench}\n" + gauge_text;
  return files;
}

double sd_um(const study::Input& input) {
  // Between order statistics a law of two values is wider than the sample; the sample itself is what was read.
  const auto& values = std::get<sampling::Measured>(input.components[0].deviation).sorted;
  double squares = 0.0;
  for (double v : values) squares += v * v;
  return std::sqrt(squares / 9.0) * 1e6;
}

}  // namespace

TEST_CASE("a gauge file says what is read, where and how well") {
  const Gauge layer = gauge(
      "reads: layer thickness\nlayer: skin\nat: rim\nrange: 2 .. 40 um\nbias: 0.2 um\nbias uncertainty: 0.1 um\n"
      "repeatability: 2 %\n");
  CHECK(layer.bias == Approx(0.2e-6));
  CHECK(layer.range->second == Approx(40e-6));
  CHECK(layer.repeatability_at(20e-6) == Approx(0.4e-6));
  CHECK(told(layer) == "the thickness of layer skin on the rim");
  // A section 60 degrees off the normal is twice as long as the layer is thick.
  CHECK(gauge("reads: chord of a section\nlayer: skin\ntilt: 60 deg\nrepeatability: 0.3 um\n").proportional_bias ==
        Approx(1.0));
  CHECK(gauge("reads: weight gain\npieces: 20\nrepeatability: 0.3 mg\n").pieces == 20);
  CHECK(gauge("reads: mass of an element\nelement: Cu\nrepeatability: 0.3 mg/cm2\n").dimension ==
        dimension::areal_mass);
  CHECK(gauge("reads: non-magnetic layers\nbias: 2 %\nrepeatability: 3 %\n").proportional_bias == Approx(0.02));
}

TEST_CASE("a gauge's basis tells on how many readings its repeatability rests") {
  const auto readings = [](const std::string& basis) {
    return gauge("reads: non-magnetic layers\nrepeatability: 1 um\n" + basis).readings;
  };
  CHECK(readings("") == 0);
  CHECK(readings("basis: measured n=30\n") == 30);
  CHECK(readings("basis: measured n=30, one section by four people\n") == 30);
  CHECK(readings("basis: measured on one section\n") == 0);
  CHECK(readings("basis: supplier n=30\n") == 0);  // whose readings they were is not known
  const auto told = [](const std::string& basis) {
    return refused("reads: non-magnetic layers\nrepeatability: 1 um\nbasis: " + basis + "\n");
  };
  CHECK_THAT(told("measured n=1"), Contains("two at least"));
  CHECK_THAT(told("measured n=many"), Contains("two at least"));
  CHECK_THAT(told("mesured n=30"), Contains("`mesured` is no basis") && Contains("Did you mean `measured`?"));
}

TEST_CASE("the uncertainty of a bias may state its degrees of freedom") {
  const std::string head = "reads: non-magnetic layers\nrepeatability: 1 um\n";
  CHECK(gauge(head + "bias uncertainty: 0.1 um\n").bias_freedom == 0.0);
  CHECK(gauge(head + "bias uncertainty: 0.1 um\nbias degrees of freedom: 16.7\n").bias_freedom == 16.7);
  CHECK_THAT(refused(head + "bias degrees of freedom: 4\n"),
             Contains("g.yaml:5:26:") && Contains("which is not stated. Add `bias uncertainty`."));
  CHECK_THAT(refused(head + "bias uncertainty: 0.1 um\nbias degrees of freedom: 0\n"),
             Contains("less than one degree of freedom"));
  CHECK_THAT(refused(head + "bias uncertainty: 0.1 um\nbias degrees of freedom: 4 um\n"),
             Contains("bias degrees of freedom"));
}

TEST_CASE("what is wrong with a gauge file is told all at once") {
  const std::string all = refused("reads: layer thickness\npieces: 3\nbias: 2 s\nrange: 5 um\nrepeatability: -1 um\n");
  for (const char* one : {"`layer` is missing", "has no `pieces`", "a time stands here", "this is not a range",
                          "a standard deviation is not negative"})
    CHECK_THAT(all, Contains(one));
  CHECK_THAT(refused("reads: colour\nrepeatability: 1 um\n"), Contains("not among the choices"));
  CHECK_THAT(refused("reads: weight gain\n"), Contains("repeatability"));
  CHECK_THAT(refused("reads: weight gain\nrange: 1 mg .. 2 mg\nrepeatability: 1 mg/cm2\n"),
             Contains("where a mass is wanted"));
  CHECK_THAT(refused("reads: weight gain\nelement: Cu\nrepeatability: 1 mg\n"), Contains("has no `element`"));
  CHECK_THAT(refused("reads: non-magnetic layers\nrepeatability: 1\n"), Contains("no unit stands"));
  CHECK_THAT(refused("reads: non-magnetic layers\nrange: 4 um .. 2 um\nrepeatability: 1 um\n"),
             Contains("begins where it ends"));
  CHECK_THAT(refused("reads: non-magnetic layers\nrepeatability: 1 um\nrepeatabilty: 1 um\n"),
             Contains("repeatabilty"));
}

TEST_CASE("a measured distribution that names its gauge has the spread of the pieces") {
  const std::string path = "section.layers.skin.thickness";
  // 0.5 read, 0.3 of the gauge: 0.4. The bias goes off the mean.
  const auto plain = test::input(
      test::read(skin_by_gauge("reads: layer thickness\nlayer: skin\nbias: 1 um\nrepeatability: 0.3 um\n")), path);
  CHECK(plain.nominal == Approx(19e-6));
  CHECK(sd_um(plain) == Approx(0.4).epsilon(1e-9));
  CHECK_THAT(plain.understood, Contains("without the error of bench"));
  CHECK_THAT(test::refusal(skin_by_gauge("reads: layer thickness\nlayer: skin\nrepeatability: 0.6 um\n")),
             Contains("nothing is left of their spread"));
  CHECK_THAT(test::refusal(skin_by_gauge("reads: weight gain\nrepeatability: 0.3 mg\n")),
             Contains("the gauge reads a mass, but the data are a length"));
  CHECK_THAT(test::refusal(skin_by_gauge("reads: layer thickness\n")), Contains("g.yaml"));
  const auto warnings = [](const std::string& text) {
    std::string all;
    for (const auto& warning : test::read(skin_by_gauge(text)).warnings) all += render(warning, Colour::none);
    return all;
  };
  CHECK_THAT(warnings("reads: layer thickness\nlayer: skin\nrange: 2 .. 20 um\nrepeatability: 0.3 um\n"),
             Contains("5 of the measured values lie outside"));
  // The hash is of what drives the draws.
  CHECK(test::read(skin_by_gauge("reads: layer thickness\nlayer: skin\nrepeatability: 0.3 um\n")).hash !=
        test::read(skin_by_gauge("reads: layer thickness\nlayer: skin\nrepeatability: 0.2 um\n")).hash);
}

TEST_CASE("a gauge of another layer or another place is refused where it is named, with what to do") {
  const auto refusal = [](const std::string& text) { return test::refusal(skin_by_gauge(text)); };
  const std::string copper = refusal("reads: layer thickness\nlayer: copper\nrepeatability: 0.3 um\n");
  CHECK_THAT(copper,
             Contains("section.layers.skin.thickness.data.gauge: the gauge reads the thickness of layer copper, "
                      "but another layer stands here. Name a gauge of this layer"));
  const std::string rim = refusal("reads: layer thickness\nlayer: skin\nat: rim\nrepeatability: 0.3 um\n");
  CHECK_THAT(rim, Contains("coin.yaml:") && Contains("on the rim, but the quantity is that of the faces") &&
                      Contains("mend `at` in the gauge file"));
  CHECK(refusal("reads: layer thickness\nlayer: skin\nat: face mean\nrepeatability: 0.3 um\n").empty());
  CHECK_THAT(refused("reads: weight gain\nat: rim\nrepeatability: 1 mg\n"), Contains("`at` says nothing"));
  // A bath states where its thickness holds; the face centre where it says nothing.
  const auto bath = [](const std::string& at, const std::string& gauge_at) {
    auto files = skin_by_gauge("reads: layer thickness\nlayer: skin\nrepeatability: 0.3 um\nat: " + gauge_at + "\n");
    files["coin.yaml"] =
        "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\nroute:\n"
        "  - blank: {material: steel, thickness: 1.4 mm, rimmed diameter: 21 mm}\n"
        "  - bath: {name: skin, material: nickel, thickness: {data: {file: t.csv, column: t, gauge: g.yaml}" +
        at + "}}\n";
    return test::refusal(std::move(files));
  };
  CHECK(bath("", "face centre").empty());
  CHECK(bath(", at: rim", "rim").empty());
  CHECK(bath(", at: face mean", "face mean").empty());
  CHECK_THAT(bath("", "face mean"), Contains("mean of the face, but the quantity is that at the face centre. State the "
                                             "place that was read with `at` beside `data`"));
  CHECK_THAT(bath(", at: rim", "face centre"), Contains("at the face centre, but the quantity is that on the rim"));
}

TEST_CASE("an override reaches into the gauge file that a quantity names") {
  const std::string path = "section.layers.skin.thickness", gauge = path + ".data.gauge.";
  const auto files = skin_by_gauge("reads: layer thickness\nlayer: skin\nrepeatability: 0.4 um\n");
  // Of a variance of 0.25 the stated gauge leaves 0.09, one of 0.3 um 0.16.
  CHECK(sd_um(test::input(test::read(files), path)) == Approx(0.3).epsilon(1e-9));
  const auto better = test::read(files, {{gauge + "repeatability", "0.3 um"}});
  CHECK(sd_um(test::input(better, path)) == Approx(0.4).epsilon(1e-9));
  CHECK(better.hash != test::read(files).hash);
  CHECK(test::input(test::read(files, {{gauge + "bias", "1 um"}}), path).nominal == Approx(19e-6));  // not there yet
  CHECK_THAT(test::refusal(files, {{gauge + "repeatabilty", "0.3 um"}}),
             Contains("no value at this path") && Contains(gauge + "repeatability"));
  CHECK_THAT(test::refusal(files, {{gauge + "repeatability", "0.9 um"}}), Contains("nothing is left of their spread"));
  CHECK_THAT(test::refusal(files, {{gauge + "repeatability", "3 s"}}),
             Contains("--set") && Contains("a time stands here"));
  CHECK_THAT(test::refusal(files, {{"section.layers.core.thickness.data.gauge.bias", "1 um"}}),
             Contains("no gauge file is named at `section.layers.core.thickness.data.gauge`"));
}

TEST_CASE("smoothing leaves the variance what was measured") {
  const std::string path = "section.layers.skin.thickness";
  const auto input = test::input(
      test::read(skin_by_gauge("reads: layer thickness\nlayer: skin\nrepeatability: 0.3 um\n", ", smooth: true")),
      path);
  // The law's variance has divisor n, the sample's n - 1; the kernel's share is told by the sample's.
  const auto& shape = std::get<sampling::Measured>(input.components[0].deviation);
  CHECK(shape.bandwidth > 0.0);
  CHECK(std::hypot(sd_um(input), shape.bandwidth * 1e6) == Approx(0.4).epsilon(1e-9));
}

TEST_CASE("a gauge of an element reads its part of an alloy, and none where the layer does not hold it") {
  const auto bath = [](const std::string& composition, const std::string& element) {
    auto files = skin_by_gauge("reads: mass of an element\nelement: " + element + "\nrepeatability: 0.3 mg/cm2\n");
    std::string& table = files["t.csv"];
    table.replace(table.find("(um)"), 4, "(mg/cm2)");
    files["coin.yaml"] =
        "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\nroute:\n"
        "  - blank: {material: steel, thickness: 1.4 mm, rimmed diameter: 21 mm}\n"
        "  - bath: {name: skin, material: alloy, composition: " +
        composition + ", thickness: {data: {file: t.csv, column: t, gauge: g.yaml}}}\n";
    return files;
  };
  const std::string brass = "{Cu: {part: 80 %, valence: 1}, Zn: {part: 20 %, valence: 2}}";
  // 20 read of copper alone, and 0.4 of its spread of 0.5: of the whole layer, 25 and 0.5.
  const auto read = test::input(test::read(bath(brass, "Cu")), "bath.skin.thickness");
  CHECK(read.nominal == Approx(0.25));
  CHECK(sd_um(read) * 1e-6 == Approx(0.005).epsilon(1e-9));
  CHECK_THAT(read.understood, Contains("of the whole layer, 80 % of which is Cu"));
  CHECK_THAT(test::refusal(bath(brass, "Ni")), Contains("the mass of Ni, which the composition of this layer does not "
                                                        "hold. Name a gauge of this layer's metal"));
}

TEST_CASE("a layer's mass on a piece is a thickness like any other, from data or stated") {
  auto files = skin_by_gauge("reads: weight gain\npieces: 4\nrepeatability: 0.3 mg\n");
  std::string& table = files["t.csv"];
  table.replace(table.find("(um)"), 4, "(mg)");
  const auto coin = [&](const std::string& thickness) {
    files["coin.yaml"] =
        "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\nroute:\n"
        "  - blank: {material: steel, thickness: 1.4 mm, rimmed diameter: 21 mm}\n"
        "  - bath: {name: skin, material: nickel, rim to face: 1.5, thickness: " +
        thickness + "}\n";
    return files;
  };
  const auto by_data = test::read(coin("{data: {file: t.csv, column: t, gauge: g.yaml}}"));
  CHECK(test::input(by_data, "bath.skin.thickness").nominal == Approx(20e-6));
  CHECK(sd_um(test::input(by_data, "bath.skin.thickness")) == Approx(0.8).epsilon(1e-9));  // 0.4 of means of four
  const auto stated = test::read(coin("20 mg +/- 2 mg"));
  CHECK(std::get<route::Bath>(std::get<route::Route>(stated.model.coin).steps[1]).kind == route::Amount::mass);
  CHECK_THAT(test::input(stated, "bath.skin.thickness").understood, Contains("mass of the layer on a piece"));
  CHECK_THAT(test::refusal(coin("{value: 20 mg, at: rim}")),
             Contains("a mass is of the whole layer, so `at` says nothing"));
}
