// Baths told by what the shop sets and measures.
#include <fmt/format.h>

#include <array>
#include <catch2/catch.hpp>
#include <cmath>

#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using Catch::Contains;

namespace {

const std::string by_current =
    "current: 1300 A +/- 6 % per barrel, time: 210 min, efficiency: 97 %, composition: {Cu: {valence: 2}}";

/// A copper-plated coin with the given words in its bath.
std::map<std::string, std::string> plated(const std::string& bath, const std::string& load = "filled area: 34.4 m2",
                                          const std::string& after = "") {
  return {{"coin.yaml",
           "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: handbook.yaml\nsensor: sensor.yaml\n"
           "groups: {barrel: {pieces: 40000}}\nroute:\n"
           "  - blank: {material: steel, thickness: 1.45 mm, rimmed diameter: 21.8 mm}\n"
           "  - load: {" +
               load + "}\n  - bath: {name: copper, material: cupric, rim to face: 2.2, " + bath + "}\n" + after},
          {"handbook.yaml", test::handbook +
                                "  cupric: {conductivity: 58 MS/m, temperature coefficient: 4e-3 1/K, density: 8.93 "
                                "g/cm3, permeability: 1}\n"},
          {"sensor.yaml",
           "format: mintspread sensor 1\nsensor: {name: bench}\n"
           "slot: {width: 3 mm, rest: below, play: 0.02 mm, side up: obverse}\n"
           "coils:\n  face: {side: above, inner radius: 2 mm, outer radius: 5 mm, length: 2 mm, turns: 100, recess: "
           "0.3 mm}\n"
           "channels:\n  skin: {value: reactance, drive: face, frequency: 240 kHz}\n"}};
}

study::Result run(const std::map<std::string, std::string>& files) {
  const study::Study study(test::read(files).model);
  study::RunOptions options;
  options.pieces = 65536;
  options.outer_draws = 0;
  options.coin_spread = false;
  options.threads = 1;
  return study::run(study, options);
}

std::string warned(const std::map<std::string, std::string>& files) {
  const study::Study study(test::read(files).model);
  std::string all;
  for (const Problem& warning : study.warnings()) all += warning.path + ": " + warning.what + "\n";
  return all;
}

}  // namespace

TEST_CASE("a thickness stated directly and one by current, tuned to it, spread alike") {
  const auto charged = plated(by_current);
  const double centre = study::nominal_reading(study::Study(test::read(charged).model)).nominal.layers[0].thickness;
  // Charge and volume by hand: 0.97 x 1300 A x 12600 s x 63.546 g / (2 F) over 34.4 m2 and 8.93 g/cm3 are 17.03 um on
  // average; a rim of 2.2 times the face takes 11.5 % of the surface: 17.03 / (0.8826 + 2.2 x 0.1174) = 14.9 um.
  CHECK(centre * 1e6 == Approx(14.9).margin(0.1));
  // A thicker layer wraps more: of volume c (linear + c square) / 4 pi, 1 % more makes 1 % (1 - c square / linear) more
  // thickness, to first order; mm, by hand for d = 21.8, t = 1.45, rim to face = 2.2.
  const double linear = 21.8 * (4 * 2.2 * 1.45 + 2 * 21.8), square = 2.2 * (8 * 21.8 + 4 * 2.2 * 1.45);
  const double tolerance = 6.0 * (1.0 - centre * 1e3 * square / linear);
  CHECK(tolerance == Approx(5.970).margin(0.001));
  const auto direct = plated(fmt::format("thickness: {:.6f} um +/- {:.4f} % per barrel", centre * 1e6, tolerance));
  const auto a = run(charged), b = run(direct);
  // Scrambled Sobol' points of one coordinate leave a mean and a standard deviation known to far better than 1e-3 of
  // the standard deviation; second orders are some (0.02 c square / linear) = 1e-4 of it.
  const auto &one = a.channels.at(0), &other = b.channels.at(0);
  CHECK(one.nominal == Approx(other.nominal).epsilon(1e-7));
  REQUIRE(one.reading.sd.value > 0);
  CHECK(std::abs(one.reading.mean.value - other.reading.mean.value) < 1e-3 * one.reading.sd.value);
  CHECK(one.reading.sd.value == Approx(other.reading.sd.value).epsilon(1e-3));
}

TEST_CASE("a thickness beside a current that contradicts it is a warning with numbers") {
  CHECK(warned(plated(by_current + ", thickness: 15 um")).empty());
  const std::string warning = warned(plated(by_current + ", thickness: 18 um"));
  CHECK_THAT(warning, Contains("bath.copper.thickness: current, time, efficiency and filled area deposit 17.0"));
  CHECK_THAT(warning, Contains("the stated one is computed"));
  // The direct statement is what is computed, and the other has no spread left to give.
  const auto both = test::read(plated(by_current + ", thickness: 18 um"));
  CHECK(test::input(both, "bath.copper.current").components.empty());
  CHECK_THAT(test::input(both, "bath.copper.current").understood, Contains("only compared"));
  CHECK(study::nominal_reading(study::Study(both.model)).nominal.layers[0].thickness == Approx(18e-6));
}

TEST_CASE("all baths of a load share one draw of its filled area") {
  const auto s = test::read(plated(
      by_current, "pieces: 40000 +/- 4 % per barrel",
      "  - bath: {name: nickel, material: nickel, composition: {Ni: {valence: 2}}, current: 600 A, time: 60 min, "
      "efficiency: 95 %}\n  - load: {name: second, filled area: 30 m2}\n"
      "  - bath: {name: flash, material: nickel, composition: {Ni: {valence: 2}}, current: 600 A, time: 6 min, "
      "efficiency: 95 %}\n"));
  std::vector<route::Electrolysis> baths;
  for (const auto& step : std::get<route::Route>(s.model.coin).steps)
    if (const auto* bath = std::get_if<route::Bath>(&step)) baths.push_back(bath->electrolysis.value());
  REQUIRE(baths.size() == 3);
  CHECK(baths[0].filling == baths[1].filling);
  CHECK(s.model.inputs[index(baths[0].filling)].path == "load.pieces");
  CHECK(s.model.inputs[index(baths[2].filling)].path == "load.second.filled area");
  // pi 21.8 (10.9 + 1.45) mm2 = 845.8 mm2, by hand
  CHECK(baths[0].surface_of_one == Approx(845.8e-6).epsilon(1e-4));
  CHECK(baths[2].surface_of_one == 1.0);
  CHECK_THAT(s.model.inputs[index(baths[0].filling)].understood, Contains("8.458 cm2 each"));
}

TEST_CASE("two baths of one barrel go together by its filling, and apart by their own current and time") {
  // Thickness goes as current x time / filling. Relative standard deviations: filling 3 %; copper 2 % and 1 %; nickel
  // 4 %. So of both together 9 of sqrt(9 + 4 + 1) sqrt(9 + 16), 0.481; without the filling nothing.
  const auto read = [](const std::string& tolerance) {
    auto files = plated(
        "current: 1300 A +/- 6 % per barrel, time: 210 min +/- 3 % per barrel, efficiency: 97 %, "
        "composition: {Cu: {valence: 2}}",
        "pieces: 40000" + tolerance,
        "  - bath: {name: nickel, material: nickel, composition: {Ni: {valence: 2}}, current: 600 A "
        "+/- 12 % per barrel, time: 60 min, efficiency: 95 %}\n");
    return study::Study(test::read(files).model);
  };
  constexpr std::size_t pieces = 16384;
  const auto correlation = [](const study::Study& study) {
    study::Pipeline pipeline(study.prepared(), pieces);
    pipeline.draw({.seed = 1}, 0);
    pipeline.assemble();
    pipeline.form();
    const auto copper = pipeline.coins().of(1, coin::CoinBlock::Of::face_thickness),
               nickel = pipeline.coins().of(2, coin::CoinBlock::Of::face_thickness);
    double one = 0.0, other = 0.0, squares = 0.0, other_squares = 0.0, products = 0.0;
    for (std::size_t lane = 0; lane < pieces; ++lane) one += copper[lane] / pieces, other += nickel[lane] / pieces;
    for (std::size_t lane = 0; lane < pieces; ++lane) {
      const double a = copper[lane] - one, b = nickel[lane] - other;
      squares += a * a, other_squares += b * b, products += a * b;
    }
    return products / std::sqrt(squares * other_squares);
  };
  // Five standard errors of plain draws, 1 / sqrt(n) at most.
  CHECK(correlation(read(" +/- 9 % per barrel")) == Approx(9.0 / std::sqrt(14.0 * 25.0)).margin(0.039));
  CHECK(correlation(read("")) == Approx(0.0).margin(0.039));

  // In the order of production a barrel has one thickness of each, the next one others.
  const auto study = read(" +/- 9 % per barrel");
  study::Pipeline pipeline(study.prepared(), 64);
  const auto thicknesses = [&](std::uint64_t first) {
    pipeline.draw({.seed = 1, .design = study::Design::nested}, first);
    pipeline.assemble();
    pipeline.form();
    std::array<double, 2> of{};
    for (std::size_t metal : {1U, 2U}) {
      const auto face = pipeline.coins().of(metal, coin::CoinBlock::Of::face_thickness);
      for (std::size_t lane = 0; lane < 64; ++lane) CHECK(face[lane] == face[0]);
      of[metal - 1] = face[0];
    }
    return of;
  };
  const auto begins = thicknesses(0), ends = thicknesses(40000 - 64), next = thicknesses(40000);
  CHECK(begins == ends);
  CHECK(begins[0] != next[0]);
  CHECK(begins[1] != next[1]);
}

TEST_CASE("surfacings even out what each of them deposits, down to a floor") {
  const auto sd = [](const std::string& text) {
    const auto s = test::read(plated("thickness: 18 um, piece to piece: " + text));
    return std::get<sampling::Normal>(test::input(s, "bath.copper.piece to piece").components.at(0).deviation).sd;
  };
  CHECK(sd("{surfacings: 400, each: 120 %}") == Approx(0.06));
  CHECK(sd("{surfacings: 400, each: 120 %, floor: 8 %}") == Approx(0.10));  // 6, 8, 10
  CHECK(sd("{surfacings: 100}") == Approx(0.10));
}
