// The handbook that comes with the examples.
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "tests/specs/in_memory.hpp"

using namespace mintspread;

namespace {

std::string shipped_handbook() {
  std::ifstream file(MINTSPREAD_SPECS "/materials/handbook.yaml");
  std::ostringstream text;
  text << file.rdbuf();
  return text.str();
}

/// Entries of two blanks' indentation: name and the text below it.
std::vector<std::pair<std::string, std::string>> metals_of(const std::string& handbook) {
  std::vector<std::pair<std::string, std::string>> metals;
  std::istringstream lines(handbook.substr(handbook.find("\nmaterials:")));
  for (std::string line; std::getline(lines, line);) {
    if (line.size() > 3 && line.starts_with("  ") && line[2] != ' ' && line[2] != '#' && line.back() == ':')
      metals.emplace_back(line.substr(2, line.size() - 3), "");
    else if (!metals.empty())
      metals.back().second += line + "\n";
  }
  return metals;
}

/// A coin of that metal alone.
specs::Specification coin_of(const std::string& metal) {
  auto files = test::coin_with("1 um");
  files["handbook.yaml"] = shipped_handbook();
  files["coin.yaml"] =
      "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\n"
      "section:\n  diameter: 22 mm\n  rim width: 0.9 mm\n  layers:\n"
      "    - {name: core, material: " +
      metal + ", thickness: 1.5 mm}\n";
  return test::read(files);
}

double nominal(const specs::Specification& coin, const std::string& property) {
  return test::input(coin, "section.layers.core." + property).nominal;
}

}  // namespace

TEST_CASE("every metal of the handbook can be made a coin of and names its source") {
  const auto metals = metals_of(shipped_handbook());
  CHECK(metals.size() >= 20);
  for (const auto& [name, text] : metals) {
    CAPTURE(name);
    CHECK(text.find("    source: ") != std::string::npos);
    const auto coin = coin_of(name);
    CHECK(coin.warnings.empty());
    // Heavier than magnesium and lighter than silver, no better a conductor than silver.
    CHECK(nominal(coin, "density") > 1.74e3);
    CHECK(nominal(coin, "density") < 10.5e3);
    CHECK(nominal(coin, "conductivity") < 63e6);
    CHECK(nominal(coin, "permeability") >= 1.0);
    for (const char* property : {"conductivity", "permeability", "density", "temperature coefficient"}) {
      const auto& input = test::input(coin, std::string("section.layers.core.") + property);
      if (input.known_to) {
        CHECK(input.known_to->lower <= input.nominal);
        CHECK(input.nominal <= input.known_to->upper);
      }
    }
  }
}

TEST_CASE("pure metals of the handbook have the resistivity of public tables") {
  // uohm cm at 20 C: IEC 60028 for copper (1/58 ohm mm2/m), CRC Handbook of Chemistry and Physics for the others at 293
  // to 298 K, both from memory; the width covers the difference between tables, purity and temper.
  struct Row {
    const char* metal;
    double lowest, highest;
  };
  for (const Row row : {Row{"copper", 1.7241, 1.7242}, Row{"nickel", 6.9, 7.2}, Row{"zinc", 5.8, 6.0},
                        Row{"tin", 10.9, 11.6}, Row{"aluminium", 2.62, 2.83}}) {
    CAPTURE(row.metal);
    const double resistivity = 1e8 / nominal(coin_of(row.metal), "conductivity");
    CHECK(resistivity >= row.lowest);
    CHECK(resistivity <= row.highest);
  }
}

TEST_CASE("deposits conduct worse than the annealed metal and their resistivity rises as much by the degree") {
  // Matthiessen's rule: disorder adds resistivity, not its slope; alpha times resistivity stays. 5 % for the rounding
  // of the figures.
  for (const auto& [deposit, annealed] : {std::pair{"copper acid", "copper"}, std::pair{"nickel Watts", "nickel"},
                                          std::pair{"nickel sulfamate", "nickel"}}) {
    CAPTURE(deposit);
    const auto as_plated = coin_of(deposit), soft = coin_of(annealed);
    CHECK(nominal(as_plated, "conductivity") < nominal(soft, "conductivity"));
    CHECK(nominal(as_plated, "temperature coefficient") / nominal(as_plated, "conductivity") ==
          Approx(nominal(soft, "temperature coefficient") / nominal(soft, "conductivity")).epsilon(0.05));
  }
}
