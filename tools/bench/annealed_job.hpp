#pragma once

#include <string>

#include "engine/study/model.hpp"
#include "specs/reader.hpp"

namespace mintspread::bench {

/// The plating of the reference job by its route, read by the same coil at the same frequencies: annealed at 850 C so
/// that its boundaries of copper and nickel blur, or at 580 C, where they stay. Invented.
inline study::ProductionModel annealed_job(bool hot) {
  const std::string metal = ", density: 8.9 g/cm3, temperature coefficient: 4e-3 1/K";
  const std::string materials =
      "format: mintspread materials 1\nmaterials:\n"
      "  steel: {conductivity: 6.5 MS/m +/- 4 %, permeability: 120 +/- 10 %, composition: {Fe: {valence: 2}}" +
      metal + "}\n  copper: {conductivity: 57 MS/m +/- 3 %, permeability: 1, composition: {Cu: {valence: 2}}" + metal +
      "}\n  nickel: {conductivity: 13 MS/m +/- 5 %, permeability: 60 +/- 10 %, composition: {Ni: {valence: 2}}" +
      metal + "}\n";
  std::string sensor =
      "format: mintspread sensor 1\nsensor: {name: benchmark coil}\n"
      "slot: {width: 3 mm, rest: above, play: 0.4 mm +/- 10 %, side up: obverse}\n"
      "coils: {face: {side: above, inner radius: 2 mm, outer radius: 5 mm, length: 2 mm, turns: 1, recess: 0 mm}}\n"
      "channels:\n";
  for (const char* frequency : {"20", "60", "180", "500", "1200"}) {
    for (const char* value : {"resistance", "reactance"})
      sensor += std::string("  ") + value + " " + frequency + ": {value: " + value +
                ", drive: face, frequency: " + frequency + " kHz}\n";
  }
  const std::string coin =
      "format: mintspread coin 1\ncoin: {name: benchmark route}\nmaterials: m.yaml\nsensor: s.yaml\nroute:\n"
      "  - blank: {material: steel, thickness: 1.6 mm +/- 3 %, rimmed diameter: 22 mm}\n"
      "  - bath: {name: inner, material: nickel, thickness: 5 um +/- 24 %}\n"
      "  - bath: {name: middle, material: copper, thickness: 18 um +/- 18 %}\n"
      "  - bath: {name: outer, material: nickel, thickness: 6 um +/- 24 %}\n"
      "  - anneal: {temperature: " +
      std::string(hot ? "850" : "580") + " degC +/- 15 degC, time: 15 min +/- 2 min" +
      (hot ? ", sealed under: [inner]" : "") + "}\n";
  return specs::read_specification("coin.yaml", {},
                                   [&](const std::string& path) -> specs::FileText {
                                     return {path == "m.yaml" ? materials : path == "s.yaml" ? sensor : coin, ""};
                                   })
      .model;
}

}  // namespace mintspread::bench
