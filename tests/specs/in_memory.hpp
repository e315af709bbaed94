#pragma once

#include <map>
#include <string>
#include <vector>

#include "specs/reader.hpp"

namespace mintspread::test {

/// Files by their path, for the reader.
inline specs::FileReader memory(std::map<std::string, std::string> files) {
  return [files = std::move(files)](const std::string& path) -> specs::FileText {
    const auto found = files.find(path);
    if (found == files.end()) return {std::nullopt, "no such file"};
    return {found->second, ""};
  };
}

inline const std::string handbook =
    "format: mintspread materials 1\n"
    "materials:\n"
    "  alloy: {conductivity: 3 MS/m, temperature coefficient: 3e-4 1/K, density: 8.94 g/cm3, permeability: 1}\n"
    "  nickel: {conductivity: 12 MS/m, temperature coefficient: 6e-3 1/K, density: 8.9 g/cm3, permeability: 60}\n"
    "  steel: {conductivity: 6.5 MS/m, temperature coefficient: 4e-3 1/K, density: 7.86 g/cm3, permeability: 150}\n";
inline const std::string sensor =
    "format: mintspread sensor 1\n"
    "sensor: {name: bench}\n"
    "slot: {width: 3 mm}\n"
    "channels:\n"
    "  gauge: {value: rim thickness}\n";

/// A coin whose core has the given thickness, everything else being plain.
inline std::map<std::string, std::string> coin_with(const std::string& thickness, const std::string& more = "") {
  return {{"coin.yaml",
           "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\n"
           "groups: {barrel: {pieces: 40000}, lot: {pieces: 600000}}\n" +
               more +
               "section:\n  diameter: 22 mm\n  rim width: 0.9 mm\n  layers:\n"
               "    - {name: core, material: alloy, thickness: 1 mm}\n"
               "    - name: skin\n      material: nickel\n      thickness: " +
               thickness + "\n"},
          {"handbook.yaml", handbook},
          {"sensor.yaml", sensor}};
}

inline specs::Specification read(std::map<std::string, std::string> files,
                                 const std::vector<specs::Override>& overrides = {}) {
  return specs::read_specification("coin.yaml", overrides, memory(std::move(files)));
}

/// What the reader says of files it refuses, one rendered diagnostic after the other; empty when it accepts them.
inline std::string refusal(std::map<std::string, std::string> files,
                           const std::vector<specs::Override>& overrides = {}) {
  try {
    read(std::move(files), overrides);
    return "";
  } catch (const specs::RejectedSpecification& rejected) {
    std::string all;
    for (const specs::Diagnostic& d : rejected.diagnostics)
      if (d.severity == specs::Severity::error) all += specs::render(d, specs::Colour::none);
    return all;
  }
}

inline const study::Input& input(const specs::Specification& specification, const std::string& path) {
  for (const study::Input& one : specification.model.inputs)
    if (one.path == path) return one;
  throw std::runtime_error("no input " + path);
}

/// The skin's thickness as read.
inline study::Input skin(const std::string& thickness, const std::string& more = "") {
  return input(read(coin_with(thickness, more)), "section.layers.skin.thickness");
}

}  // namespace mintspread::test
