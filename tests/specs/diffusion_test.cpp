// Pairs of metals in materials files; figures other than those of copper and nickel are invented.
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>
#include <string>
#include <variant>
#include <vector>

#include "engine/materials/blurred_boundary.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using Catch::Contains;

namespace {

const std::string first_order =
    "  - between: [Pd, Ag]\n"
    "    first in second: {factor: 0.5 cm2/s, activation energy: 230 kJ/mol}\n"
    "    second in first: {factor: 0.3 cm2/s, activation energy: 240 kJ/mol}\n"
    "    first magnetic up to: 25 %\n"
    "    resistivity: [{part: 0 %, resistivity: 7 uohm cm}, {part: 25 %, resistivity: 25 uohm cm},"
    " {part: 75 %, resistivity: 20 uohm cm}, {part: 100 %, resistivity: 1.65 uohm cm}]\n";
const std::string second_order =
    "  - between: [Ag, Pd]\n"
    "    first in second: {factor: 3e-5 m2/s, activation energy: 240000 J/mol}\n"
    "    second in first: {factor: 50 mm2/s, activation energy: 0.23 MJ/mol}\n"
    "    second magnetic up to: 25 %\n"
    "    resistivity: [{part: 0 %, resistivity: 1.65 uohm cm}, {part: 25 %, resistivity: 20 uohm cm},"
    " {part: 75 %, resistivity: 25 uohm cm}, {part: 100 %, resistivity: 7 uohm cm}]\n";
const std::string metals =
    "  palladium: {conductivity: 9 MS/m, temperature coefficient: 4e-3 1/K, density: 12 g/cm3, permeability: 1,"
    " composition: {Pd: {part: 100 %}}}\n"
    "  silver: {conductivity: 60 MS/m, temperature coefficient: 4e-3 1/K, density: 10.5 g/cm3, permeability: 1,"
    " composition: {Ag: {part: 100 %}}}\n";

/// A bare blank, with the handbook and one or two further materials files.
specs::Specification read_with(const std::string& more, const std::string& later = "") {
  std::map<std::string, std::string> files = {
      {"coin.yaml", "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: [handbook.yaml, more.yaml" +
                        std::string(later.empty() ? "" : ", later.yaml") +
                        "]\nsensor: sensor.yaml\nroute:\n"
                        "  - blank: {material: alloy, thickness: 1.5 mm, rimmed diameter: 21 mm}\n"},
      {"handbook.yaml", test::handbook},
      {"more.yaml", "format: mintspread materials 1\nmaterials:\n" + more},
      {"later.yaml", "format: mintspread materials 1\nmaterials:\n" + later},
      {"sensor.yaml", test::sensor}};
  return test::read(std::move(files));
}

std::vector<materials::DiffusionPair> pairs_of(const specs::Specification& specification) {
  std::vector<materials::DiffusionPair> pairs;
  for (const auto& boundary : std::get<route::Route>(specification.model.coin).boundaries)
    pairs.push_back(boundary->pair());
  return pairs;
}

}  // namespace

TEST_CASE("a pair is the same whichever of its metals is first, and in any units") {
  const auto one = pairs_of(read_with(metals + "diffusion:\n" + first_order)),
             other = pairs_of(read_with(metals + "diffusion:\n" + second_order));
  REQUIRE(one.size() == 1);
  REQUIRE(other.size() == 1);
  for (const auto& pair : {one[0], other[0]}) {
    CHECK(pair.slow == "Pd");
    CHECK(pair.quick == "Ag");
    CHECK(pair.in_quick.factor == Approx(0.5e-4).epsilon(1e-14));
    CHECK(pair.in_quick.activation == Approx(230e3).epsilon(1e-14));
    CHECK(pair.in_slow.factor == Approx(0.3e-4).epsilon(1e-14));
    CHECK(pair.in_slow.activation == Approx(240e3).epsilon(1e-14));
    // 25 % of the mass silver (107.87 g/mol) in palladium (106.42 g/mol): 24.75 % of the atoms, by hand.
    CHECK(pair.magnetic_until == Approx(0.2475).margin(5e-5));
    REQUIRE(pair.parts.size() == 4);
    CHECK(pair.parts[1] == 0.25);
    CHECK(pair.resistivities[0] == Approx(7e-8).epsilon(1e-14));
    CHECK(pair.resistivities[1] == Approx(25e-8).epsilon(1e-14));
    CHECK(pair.resistivities[3] == Approx(1.65e-8).epsilon(1e-14));
  }
}

TEST_CASE("a later materials file replaces a pair, in whichever order it names the metals") {
  std::string hotter = second_order;
  hotter.replace(hotter.find("240000"), 6, "250000");
  const auto pairs = pairs_of(read_with(metals + "diffusion:\n" + first_order, metals + "diffusion:\n" + hotter));
  REQUIRE(pairs.size() == 1);
  CHECK(pairs[0].in_slow.activation == Approx(250e3));
}

TEST_CASE("a pair of an element that no material has is told as a warning, and is no error") {
  const std::string silver_alone = metals.substr(metals.find("  silver"));
  const auto read = read_with(silver_alone + "diffusion:\n" + first_order);
  REQUIRE(read.warnings.size() == 1);
  CHECK(read.warnings[0].path == "materials.diffusion.1.between");
  CHECK_THAT(read.warnings[0].what, Contains("no material of the handbook has Pd"));
  CHECK_FALSE(read.warnings[0].remedy.empty());
  CHECK(read_with(metals + "diffusion:\n" + first_order).warnings.empty());
}

TEST_CASE("copper and nickel stated again in a file are the built-in pair to rounding") {
  std::string text =
      metals +
      "  pure nickel: {conductivity: 14 MS/m, temperature coefficient: 6e-3 1/K, density: 8.9 g/cm3, permeability: 60,"
      " composition: {Ni: {part: 100 %}}}\n"
      "  pure copper: {conductivity: 58 MS/m, temperature coefficient: 4e-3 1/K, density: 8.9 g/cm3, permeability: 1,"
      " composition: {Cu: {part: 100 %}}}\n"
      "diffusion:\n"
      "  - between: [Ni, Cu]\n"
      "    first in second: {factor: 0.62 cm2/s, activation energy: 223.8 kJ/mol}\n"
      "    second in first: {factor: 0.61 cm2/s, activation energy: 253.9688 kJ/mol}\n"
      "    first magnetic up to: 33.7528 %\n"  // 32 at.%: 0.32 x 63.546 / (0.32 x 63.546 + 0.68 x 58.693)
      "    resistivity:\n";
  const double rows[][2] = {{0, 6.93},   {1, 8.08},   {5, 12.50},  {10, 17.82}, {15, 23.35}, {25, 35.11},
                            {30, 41.79}, {40, 47.73}, {50, 50.05}, {60, 45.38}, {70, 36.72}, {80, 25.66},
                            {85, 19.83}, {90, 13.89}, {95, 7.71},  {99, 2.85},  {100, 1.676}};
  for (const auto& [part, resistivity] : rows)
    text +=
        "      - {part: " + std::to_string(part) + " %, resistivity: " + std::to_string(resistivity) + " uohm cm}\n";
  const auto pairs = pairs_of(read_with(text));
  REQUIRE(pairs.size() == 1);
  const auto &stated = pairs[0], &built_in = materials::copper_and_nickel();
  CHECK(stated.slow == built_in.slow);
  CHECK(stated.in_slow.factor == Approx(built_in.in_slow.factor).epsilon(1e-14));
  CHECK(stated.in_slow.activation == Approx(built_in.in_slow.activation).epsilon(1e-14));
  CHECK(stated.in_quick.factor == Approx(built_in.in_quick.factor).epsilon(1e-14));
  CHECK(stated.magnetic_until == Approx(built_in.magnetic_until).epsilon(3e-6));  // half a unit of the last digit
  REQUIRE(stated.parts.size() == built_in.parts.size());
  for (std::size_t i = 0; i < stated.parts.size(); ++i) {
    CHECK(stated.parts[i] == Approx(built_in.parts[i]).margin(1e-15));
    CHECK(stated.resistivities[i] == Approx(built_in.resistivities[i]).epsilon(1e-14));
  }
}

TEST_CASE("the reference's own pair is read") {
  std::ifstream stream(std::string(MINTSPREAD_SPECS) + "/reference.md");
  std::ostringstream reference;
  reference << stream.rdbuf();
  const std::string text = reference.str();
  const std::size_t begin = text.find("diffusion:\n  - between:");
  REQUIRE(begin != std::string::npos);
  const auto pairs = pairs_of(read_with(metals + text.substr(begin, text.find("```", begin) - begin)));
  REQUIRE(pairs.size() == 1);
  CHECK(pairs[0].slow == "Pd");
  CHECK(pairs[0].magnetic_until > 0.0);
}
