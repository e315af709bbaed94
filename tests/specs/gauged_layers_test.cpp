#include <fmt/format.h>

#include <array>
#include <catch2/catch.hpp>

#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using namespace mintspread::specs;
using Catch::Contains;

namespace {

std::string warnings(const std::map<std::string, std::string>& files) {
  std::string all;
  for (const Diagnostic& warning : test::read(files).warnings) all += render(warning, Colour::none);
  return all;
}

std::string table(const std::string& unit) {
  std::string text = "t (" + unit + ")\n";
  for (int i = 0; i < 30; ++i) text += fmt::format("{}\n", 20.0 + (i % 5) * 0.5);
  return text;
}

/// Three baths on a blank, the second one's thickness read by a gauge.
std::map<std::string, std::string> plated(const std::string& unit, const std::string& reads, const std::string& blank,
                                          const std::array<std::string, 3>& baths, const std::string& more = "") {
  auto files = test::coin_with("1 um");
  files["t.csv"] = table(unit);
  files["g.yaml"] = "format: mintspread gauge 1\ngauge: {name: bench}\n" + reads;
  files["coin.yaml"] = fmt::format(
      "format: mintspread coin 1\ncoin: {{name: invented}}\nmaterials: handbook.yaml\nsensor: sensor.yaml\nroute:\n"
      "  - blank: {{material: steel, thickness: 1.4 mm, rimmed diameter: 21 mm{}}}\n"
      "  - bath: {{name: inner, material: alloy, thickness: 5 um{}}}\n"
      "  - bath: {{name: middle, material: alloy{}, thickness: {{data: {{file: t.csv, column: t, gauge: "
      "g.yaml}}{}}}}}\n"
      "  - bath: {{name: outer, material: alloy, thickness: 5 um{}}}\n"
      "  - strike: {{collar: 22 mm, rim thickness: 1.6 mm, rim width: 0.9 mm, rim height: {{up: 0.1 mm, down: 0.1 "
      "mm}}}}\n",
      blank, baths[0], baths[1], more, baths[2]);
  return files;
}

}  // namespace

TEST_CASE("a gauge of an element is warned of where other layers of the piece hold it, and names them") {
  const std::string copper = ", composition: {Cu: {valence: 2}}", nickel = ", composition: {Ni: {valence: 2}}",
                    iron = ", composition: {Fe: {part: 100 %}}",
                    brass = ", composition: {Cu: {part: 70 %}, Zn: {part: 30 %}}";
  const std::string reads = "reads: mass of an element\nelement: Cu\nrepeatability: 0.2 mg/cm2\n";
  const auto told = [&](const std::string& blank, const std::array<std::string, 3>& baths,
                        const std::string& more = "") { return warnings(plated("mg/cm2", reads, blank, baths, more)); };
  CHECK_THAT(told(iron, {nickel, copper, nickel}), !Contains("the gauge reads"));
  CHECK_THAT(told(brass, {copper, copper, nickel}),
             Contains("coin.yaml:8:126: warning: bath.middle.thickness.data.gauge: the gauge reads the mass of Cu in "
                      "`blank` and `inner`, too; the data are taken for this layer alone."));
  // A later bath is not on the piece yet that is measured as plated.
  CHECK_THAT(told(iron, {nickel, copper, copper}), !Contains("the gauge reads"));
  CHECK_THAT(told(iron, {nickel, copper, copper}, ", stage: struck"), Contains("the mass of Cu in `outer`, too"));
  CHECK_THAT(told(iron, {"", copper, nickel}),
             Contains("no composition tells how much of it is in `inner`; the data") && !Contains("too;"));
}

TEST_CASE("a gauge of the non-magnetic layers is warned of where several are not magnetic, or this one is") {
  const std::string magnetic = ", permeability: 60", plain = "", feebly = ", permeability: 1.05";
  const auto told = [&](const std::string& blank, const std::array<std::string, 3>& baths,
                        const std::string& more = "") {
    return warnings(plated("um", "reads: non-magnetic layers\nrepeatability: 1 %\n", blank, baths, more));
  };
  CHECK_THAT(told(plain, {magnetic, plain, plain}), !Contains("the gauge reads"));
  CHECK_THAT(told(plain, {feebly, plain, plain}),
             Contains("the gauge reads the sum of the non-magnetic layers, `inner` among them; the data are taken"));
  CHECK_THAT(told(plain, {magnetic, plain, plain}, ", stage: struck"), Contains("layers, `outer` among them"));
  CHECK_THAT(told(", permeability: 1", {plain, plain, plain}, ", stage: struck"),
             Contains("`blank`, `inner` and `outer` among them"));
  CHECK_THAT(told(plain, {plain, magnetic, plain}), Contains("but this one is magnetic"));
}

TEST_CASE("on a section's face a gauge reads down to the core, and what is no layer is not read at all") {
  const std::string data = "{data: {file: t.csv, column: t, gauge: g.yaml}}";
  const auto told = [&](const std::string& core, const std::string& rim_width) {
    auto files = test::coin_with("1 um");
    files["t.csv"] = table("um");
    files["g.yaml"] =
        "format: mintspread gauge 1\ngauge: {name: bench}\nrepeatability: 1 %\nreads: non-magnetic layers\n";
    files["coin.yaml"] =
        "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\n"
        "section:\n  diameter: 22 mm\n  rim width: " +
        rim_width +
        "\n  layers:\n"
        "    - {name: skin, material: alloy, thickness: 4 um}\n"
        "    - {name: upper, material: alloy, thickness: " +
        data +
        "}\n"
        "    - {name: core, material: " +
        core +
        ", thickness: 1 mm}\n"
        "    - {name: lower, material: alloy, thickness: 6 um}\n";
    return warnings(files);
  };
  CHECK_THAT(told("steel", "0.9 mm"),
             Contains("section.layers.upper.thickness.data.gauge: the gauge reads the sum of the "
                      "non-magnetic layers, `skin` among them;"));
  CHECK_THAT(told("alloy", "0.9 mm"), Contains("`skin` and `core` among them"));
  CHECK_THAT(told("steel", data), Contains("section.rim width.data.gauge: the gauge reads the sum of the non-magnetic "
                                           "layers, which is not what stands here"));
}
