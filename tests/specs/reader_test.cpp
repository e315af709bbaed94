#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <filesystem>

#include "engine/study/draw_plan.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using namespace mintspread::test;
using Catch::Contains;

namespace {

const std::string data = std::string(MINTSPREAD_TESTS) + "/specs/data/";

specs::Specification coin(const std::vector<specs::Override>& overrides = {}) {
  return specs::read_specification(data + "coin.yaml", overrides);
}

std::string refused(const std::string& path, const std::string& text) {
  const std::vector<specs::Override> one = {{path, text}};
  try {
    coin(one);
    return "";
  } catch (const specs::RejectedSpecification& rejected) {
    std::string all;
    for (const auto& d : rejected.diagnostics)
      if (d.severity == specs::Severity::error) all += render(d, specs::Colour::none);
    return all;
  }
}

double nominal(const specs::Specification& s, InputId id) { return s.model.inputs.at(index(id)).nominal; }
const std::string& path(const specs::Specification& s, InputId id) { return s.model.inputs.at(index(id)).path; }

}  // namespace

TEST_CASE("a coin in use is called by its name and its state") {
  const std::vector<specs::Override> worn = {{"coin.state", "worn to the steel"}};
  const auto s = coin(worn);
  CHECK(s.model.name == "invented 22 mm, worn to the steel");
  CHECK(s.model.state == "worn to the steel");
}

TEST_CASE("a coin file becomes a route in the order of manufacture, in SI units") {
  const auto s = coin();
  CHECK(s.warnings.empty());
  CHECK(s.model.name == "invented 22 mm");
  CHECK(s.model.construction == "multi-layer");
  CHECK(s.model.state.empty());
  const auto& steps = std::get<route::Route>(s.model.coin).steps;
  REQUIRE(steps.size() == 5);
  const auto& blank = std::get<route::Blank>(steps[0]);
  CHECK(blank.metal.name == "low-carbon steel");
  CHECK(nominal(s, blank.thickness) == Approx(1.45e-3));
  CHECK(nominal(s, blank.diameter) == Approx(21.8e-3));
  CHECK(nominal(s, blank.metal.density) == Approx(7860));
  const auto& copper = std::get<route::Bath>(steps[1]);
  CHECK(copper.kind == route::Amount::thickness);
  CHECK(path(s, copper.amount) == "bath.copper.thickness");
  CHECK(nominal(s, copper.metal.conductivity) == Approx(54e6));
  CHECK(nominal(s, copper.rim_to_face) == Approx(2.2));
  CHECK(nominal(s, copper.minimum_to_mean) == 1.0);
  const auto& nickel = std::get<route::Bath>(steps[2]);
  CHECK(path(s, nickel.metal.permeability) == "bath.outer nickel.permeability");
  CHECK(s.model.inputs[index(nickel.metal.permeability)].known_to.has_value());
  CHECK(nominal(s, nickel.metal.conductivity) == Approx(0.22 * 58e6));
  const auto& anneal = std::get<route::Anneal>(steps[3]);
  CHECK(nominal(s, anneal.temperature) == Approx(853.15));
  CHECK(nominal(s, anneal.time) == Approx(1800));
  REQUIRE(anneal.changes.size() == 2);
  CHECK(anneal.changes[0].of == "blank");
  CHECK(nominal(s, anneal.changes[1].permeability_factor) == 1.0);
  const auto& strike = std::get<route::Strike>(steps[4]);
  CHECK(nominal(s, strike.rim_thickness) == Approx(1.75e-3));
  CHECK(nominal(s, strike.rim_height_down) == Approx(0.1e-3));
}

TEST_CASE("variation from piece to piece is a factor about one") {
  const auto s = coin();
  const auto& normal = input(s, "bath.copper.piece to piece");
  CHECK(normal.nominal == 1.0);
  CHECK(std::get<sampling::Normal>(normal.components.at(0).deviation).sd == Approx(0.09));
  // Lognormal of coefficient of variation c: variance of the logarithm ln(1 + c^2).
  const auto& log = input(s, "bath.outer nickel.piece to piece");
  CHECK(std::get<sampling::Lognormal>(log.components.at(0).deviation).log_sd ==
        Approx(std::sqrt(std::log(1 + 0.11 * 0.11))));
  CHECK(log.basis == study::Basis::guess);
}

TEST_CASE("every step draws its own properties, even of one material") {
  const auto s = coin({{"bath.copper.material", "nickel"}});
  CHECK(path(s, std::get<route::Bath>(std::get<route::Route>(s.model.coin).steps[1]).metal.permeability) ==
        "bath.copper.permeability");
  CHECK(input(s, "bath.copper.permeability").known_to);
  CHECK(input(s, "bath.outer nickel.permeability").known_to);
  // They stand in the handbook, and engine problems about them point there.
  const std::vector<Problem> problems = {
      {"bath.copper.permeability", "too large", ""}, {"bath.copper.thickness.at", "x", ""}, {"nowhere", "y", ""}};
  const auto placed = specs::place_problems(s, problems, specs::Severity::warning);
  CHECK_THAT(placed[0].place.file, Catch::EndsWith("handbook.yaml"));
  CHECK(placed[0].place.line == 9);
  CHECK_THAT(placed[0].source_line, Contains("known to: 20 .. 150"));
  CHECK(placed[0].severity == specs::Severity::warning);
  CHECK_THAT(placed[1].place.file, Catch::EndsWith("coin.yaml"));
  CHECK(placed[1].place.line == 16);
  CHECK(placed[2].place.line == 0);
  CHECK_THAT(placed[2].place.file, Catch::EndsWith("coin.yaml"));
}

TEST_CASE("thickness may be a mass for an area or a share of the mass, at a place, a stage and as a statistic") {
  const auto bath = [](const std::string& text) {
    const auto s = coin({{"bath.copper.thickness", text},
                         {"correlations", "[{between: [bath.outer nickel.thickness, strike.collar], rank: 0.1}]"}});
    return std::pair{std::get<route::Bath>(std::get<route::Route>(s.model.coin).steps[1]),
                     input(s, "bath.copper.thickness")};
  };
  const auto areal = bath("22 mg/cm2 +/- 10 % per barrel");
  CHECK(areal.first.kind == route::Amount::areal_mass);
  CHECK(areal.second.nominal == Approx(0.22));
  const auto share = bath("5.5 % of mass +/- 4 %");
  CHECK(share.first.kind == route::Amount::mass_fraction);
  CHECK(share.second.nominal == Approx(0.055));
  CHECK(share.second.components[0].relative);
  CHECK(bath("5.5 % of mass +/- 0.3 % of mass").second.tolerance.upper == Approx(0.058));
  const auto placed = bath("{value: 18 um, at: rim, stage: struck, statistic: mean}");
  CHECK(placed.first.place == route::Place::rim);
  CHECK(placed.first.stage == route::Stage::struck);
  CHECK_THAT(placed.second.understood, Contains("mean struck rim thickness"));
  CHECK(bath("{known to: 4 % of mass .. 6 % of mass}").first.kind == route::Amount::mass_fraction);
}

TEST_CASE("a section names its core and shares the face's draw with the rim where nothing else is stated") {
  const auto s = specs::read_specification(data + "solid.yaml");
  const auto& section = std::get<route::Section>(s.model.coin);
  CHECK(section.core == 1);
  REQUIRE(section.layers.size() == 2);
  CHECK(nominal(s, section.layers[0].rim_thickness) == Approx(8e-6));
  CHECK(section.layers[1].rim_thickness == section.layers[1].thickness);
  CHECK(nominal(s, section.layers[1].metal.conductivity) == Approx(3e6));
  CHECK(s.model.windows.empty());
}

TEST_CASE("a sensor file becomes slot, coils, reference pieces and channels") {
  const auto s = coin();
  const auto& sensor = s.model.sensor;
  CHECK(sensor.slot.rest == signature::Rest::below);
  CHECK(sensor.slot.side_up == signature::SideUp::either);
  CHECK(nominal(s, sensor.slot.temperature) == Approx(293.15));
  REQUIRE(sensor.coils.size() == 3);
  CHECK(sensor.coils[2].side == signature::Side::below);
  CHECK(sensor.coils[0].coil.outer_radius == Approx(5e-3));
  CHECK(sensor.coils[0].coil.turns == 200.0);
  REQUIRE(sensor.reference_pieces.size() == 2);
  CHECK(sensor.reference_pieces[0].layers[0].conductivity == Approx(16.2e6));
  REQUIRE(sensor.channels.size() == 6);
  const auto& skin = sensor.channels[0];
  CHECK(skin.frequency == Approx(240e3));
  REQUIRE(skin.scale);
  CHECK(skin.scale->first_piece == 1);
  CHECK(skin.scale->first_reading == 200.0);
  CHECK(skin.unit.name == "counts");
  CHECK(skin.resolution == 1.0);
  REQUIRE(skin.noise);
  CHECK(path(s, *skin.noise) == "sensor.channels.skin.noise");
  const auto& noise = s.model.inputs[index(*skin.noise)];
  CHECK(noise.nominal == 0.0);
  CHECK(std::get<sampling::Normal>(noise.components.at(0).deviation).sd == 0.5);
  CHECK(noise.components[0].level == study::reading_level);
  CHECK(sensor.channels[1].receive == 2);
  CHECK(sensor.channels[2].unit.name == "mV");
  CHECK(sensor.channels[2].gate.time == Approx(10e-6));
  CHECK(sensor.channels[2].ramp == Approx(1e-6));
  CHECK(std::get<sampling::Normal>(s.model.inputs[index(*sensor.channels[3].noise)].components[0].deviation).sd ==
        Approx(5e-6));
  CHECK(sensor.channels[3].unit.name == "mm");
  CHECK(std::get<sampling::Normal>(s.model.inputs[index(*sensor.channels[4].noise)].components[0].deviation).sd ==
        Approx(3e-6));
  CHECK(sensor.channels[5].expression == "log(skin / core)");
}

TEST_CASE("windows are in the units their channels are read in") {
  const auto s = coin();
  REQUIRE(s.model.windows.size() == 2);
  const auto& vending = s.model.windows[0];
  CHECK(vending.machine_class == "vending");
  REQUIRE(vending.criteria.size() == 4);
  CHECK(vending.criteria[0].limits.upper == 460.0);
  CHECK(vending.criteria[1].limits.lower == 200.0);
  CHECK(std::isinf(vending.criteria[1].limits.upper));
  CHECK(vending.criteria[2].channel == 3);
  CHECK(vending.criteria[2].limits.lower == Approx(1.70));
  CHECK_FALSE(vending.criteria[3].channel);
  CHECK(vending.criteria[3].expression == "skin / core");
  CHECK(s.model.windows[1].criteria[0].limits.upper == Approx(1.80));  // stated in um
  REQUIRE(s.model.targets.size() == 2);
  CHECK(s.model.targets[0].at_least == Approx(0.999));
  CHECK(s.model.targets[1].machine_class == "vending");
  CHECK(s.model.targets[1].text == "accepted by vending >= 99.5 %");
}

TEST_CASE("groups stand behind piece and reading") {
  const auto s = coin();
  REQUIRE(s.model.groups.size() == 6);
  CHECK(s.model.groups[0].name == "piece");
  CHECK(s.model.groups[1].name == "reading");
  CHECK(s.model.groups[3].from == "strip lot");
  CHECK(s.model.groups[4].mixed_units == 3);
  CHECK(s.model.groups[4].mixes == "barrel");
  REQUIRE(s.model.correlations.size() == 1);
  CHECK(path(s, s.model.correlations[0].first) == "bath.copper.thickness");
  CHECK(s.model.correlations[0].rank == Approx(0.6));
}

TEST_CASE("an override replaces a value at its path, in whichever file it stands") {
  CHECK(input(coin({{"bath.copper.thickness", "25 um +/- 2 um"}}), "bath.copper.thickness").nominal == Approx(25e-6));
  CHECK(input(coin({{"bath.outer nickel.permeability", "{known to: 30 .. 60}"}}), "bath.outer nickel.permeability")
            .known_to->upper == 60.0);
  CHECK(input(coin({{"materials.copper.density", "8.96 g/cm3"}}), "bath.copper.density").nominal == Approx(8960));
  CHECK(input(coin({{"sensor.channels.skin.noise", "2 counts"}}), "sensor.channels.skin.noise").components.size() == 1);
  CHECK(coin({{"windows.vending.windows.skin", "1 .. 2"}}).model.windows[0].criteria[0].limits.upper == 2.0);
  CHECK(coin({{"targets.accepted", ">= 95 %"}}).model.targets[0].at_least == Approx(0.95));
  CHECK(coin({{"coin.name", "other"}}).model.name == "other");
  CHECK(coin({{"sensor.name", "other"}}).model.sensor.name == "other");
  CHECK(coin({{"correlations.1.rank", "-0.5"}}).model.correlations[0].rank == -0.5);
  CHECK(coin({{"groups.die.pieces", "9"}}).model.groups[5].pieces == 9);
  CHECK(coin({{"windows", "[]"}, {"windows", "classes.yaml"}}).model.windows.size() == 2);  // the later one stands
}

TEST_CASE("an override adds keys the grammar knows, and long forms where the short form stands") {
  CHECK(input(coin({{"bath.copper.permeability", "1.5"}}), "bath.copper.permeability").nominal == 1.5);
  const auto longer = input(coin({{"bath.copper.thickness.sd", "0.5 um"}}), "bath.copper.thickness");
  CHECK(longer.nominal == Approx(18e-6));
  CHECK(std::get<sampling::Normal>(longer.components[0].deviation).sd == Approx(0.5e-6));
  CHECK(coin({{"sensor.channels.new one", "{value: diameter}"}}).model.sensor.channels.size() == 7);
  CHECK(input(coin({{"strike.changes.blank", "{permeability: 0.7}"}}), "strike.changes.blank.permeability").nominal ==
        Approx(0.7));
  CHECK(
      std::get<sampling::Normal>(
          input(coin({{"bath.copper.piece to piece.sd", "5 %"}}), "bath.copper.piece to piece").components[0].deviation)
          .sd == Approx(0.05));
}

TEST_CASE("faults of an override point into its text, unknown paths to the nearest") {
  CHECK_THAT(refused("bath.copper.thickness", "25 ms"),
             Catch::StartsWith("--set bath.copper.thickness:1:4: error: bath.copper.thickness: a time stands here"));
  CHECK_THAT(refused("bath.coper.thickness", "25 um"), Contains("Did you mean `bath.copper.thickness`?"));
  CHECK_THAT(refused("blank.thicknes", "25 um"), Contains("Did you mean `blank.thickness`?"));
  CHECK_THAT(refused("sensor.slot.ply", "1 mm"), Contains("Did you mean `sensor.slot.play`?"));
  CHECK_THAT(refused("materials.coper.density", "1 g/cm3"), Contains("Did you mean `materials.copper.density`?"));
  CHECK_THAT(refused("zzz", "1"), Contains("no value at this path") && Contains("Paths are made of the keys"));
  CHECK_THAT(refused("", "1"), Contains("no value at this path"));
  CHECK_THAT(refused("bath.copper.thickness", ""), Contains("has no value"));
  CHECK_THAT(refused("bath.copper.thickness", "{value: 18 um"), Contains("bracket `{`"));
  CHECK_THAT(refused("bath.copper.thickness", "[18 um]"), Contains("a list stands here"));
  CHECK_THAT(refused("format", "mintspread coin 2"), Contains("no value at this path"));
  CHECK_THAT(refused("bath.copper.thickness.value.x", "1"), Contains("no value at this path"));
  CHECK_THAT(refused("route", "x"), Contains("no value at this path"));
}

TEST_CASE("the hash tells what was read, not how it was laid out") {
  auto files = coin_with("18 um +/- 2 um");
  const auto hash = [&] { return read(files).hash; };
  const std::string first = hash();
  CHECK(first.size() == 64);
  files["coin.yaml"] =
      "# a comment\nsection:\n  layers:\n  - {thickness:    1 mm,   name: core, material: alloy}\n  - {material: "
      "nickel, \"thickness\": '18 um   +/- 2 um', name: skin}\n  rim width: 0.9 mm\n  "
      "diameter: 22 mm\nsensor: ./sensor.yaml\nmaterials: [handbook.yaml]\ncoin: {name: invented}\ngroups: {lot: "
      "{pieces: 600000}, barrel: {pieces: 40000}}\nformat: mintspread coin 1\n";
  CHECK(hash() == first);
  CHECK(read(files, {{"section.layers.skin.thickness", "18 um +/- 2 um"}}).hash == first);
  CHECK(read(files, {{"section.layers.skin.thickness", "18 um +/- 2.1 um"}}).hash != first);
  CHECK(read(files, {{"materials.alloy.density", "8.95 g/cm3"}}).hash != first);
  CHECK(read(files, {{"sensor.slot.width", "3.1 mm"}}).hash != first);
  files["handbook.yaml"] += "  unused: {conductivity: 1 MS/m}\n";
  CHECK(hash() != first);
}

TEST_CASE("later materials files replace single properties of earlier ones") {
  auto files = coin_with("18 um");
  files["coin.yaml"].replace(files["coin.yaml"].find("handbook.yaml"), 13, "[handbook.yaml, plant.yaml]");
  files["plant.yaml"] =
      "format: mintspread materials 1\nmaterials:\n  nickel: {permeability: {known to: 30 .. 90, basis: measured n=3}, "
      "source: our own}\n";
  const auto s = read(files);
  CHECK(input(s, "section.layers.skin.permeability").known_to->lower == 30.0);
  CHECK(input(s, "section.layers.skin.conductivity").nominal == Approx(12e6));
  CHECK(s.places.at("section.layers.skin.permeability").place.file == "plant.yaml");
  CHECK(s.places.at("section.layers.skin.conductivity").place.file == "handbook.yaml");
}

TEST_CASE("a specification that cannot be opened is refused, whatever stands in its place") {
  for (const auto& [path, words] : {std::pair<std::string, std::string>{data + "none.yaml", "no such file"},
                                    {data, "it is a directory"},
                                    {"/dev/zero", "no ordinary file"}}) {
    INFO(path);
    try {
      specs::read_specification(path);
      FAIL("accepted");
    } catch (const specs::RejectedSpecification& rejected) {
      REQUIRE(rejected.diagnostics.size() == 1);
      CHECK_THAT(rejected.diagnostics[0].what, Contains(words));
      CHECK(rejected.diagnostics[0].place.file == path);
    }
  }
}

TEST_CASE("problems beyond a hundred are counted, not listed") {
  auto files = coin_with("18 um");
  for (int i = 0; i < 150; ++i) files["coin.yaml"] += "unknown " + std::to_string(i) + ": 1\n";
  try {
    read(files);
    FAIL("accepted");
  } catch (const specs::RejectedSpecification& rejected) {
    CHECK(rejected.diagnostics.size() == 101);
    CHECK(rejected.diagnostics.back().what == "50 more problems are not listed");
  }
}

TEST_CASE("quantities correlated across levels are refused where they stand when they are to be drawn") {
  const auto s = coin({{"bath.copper.thickness", "18 um +/- 2 um"}});
  std::vector<Problem> problems;
  study::DrawPlan(s.model, problems);
  REQUIRE(problems.size() == 1);
  CHECK_THAT(problems[0].what, Contains("vary at different levels: 'piece' and 'barrel'"));
  const auto placed = specs::place_problems(s, problems, specs::Severity::error);
  CHECK(placed[0].place.line > 1);
}

TEST_CASE("correlations that contradict each other are refused at the first culprit, by the names of all") {
  auto files = test::coin_with("0.1 mm +/- 0.01 mm", R"(correlations:
  - {between: [section.rim width, section.diameter], rank: 0.2}
  - {between: [section.diameter, section.layers.core.thickness], rank: 0.9}
  - {between: [section.layers.core.thickness, section.layers.skin.thickness], rank: 0.9}
  - {between: [section.diameter, section.layers.skin.thickness], rank: -0.9}
)");
  std::string& text = files["coin.yaml"];
  for (const auto& [plain, spread] : {std::pair<std::string, std::string>{"22 mm", "22 mm +/- 0.1 mm"},
                                      {"0.9 mm", "0.9 mm +/- 0.1 mm"},
                                      {"thickness: 1 mm", "thickness: 1 mm +/- 0.1 mm"}})
    text.replace(text.find(plain), plain.size(), spread);
  const auto s = test::read(files);
  std::vector<Problem> problems;
  study::DrawPlan(s.model, problems);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].path == "correlations.2");
  for (const char* pair : {"section.diameter with section.layers.core.thickness: 0.9",
                           "section.layers.core.thickness with section.layers.skin.thickness: 0.9",
                           "section.diameter with section.layers.skin.thickness: -0.9"})
    CHECK_THAT(problems[0].what, Contains(pair));
  CHECK_THAT(problems[0].what, !Contains("rim width"));
  CHECK_THAT(problems[0].remedy, Contains("Bring them nearer to zero"));
}

// The examples of the project; their folder holds no other coin files.
TEST_CASE("every example specification is read without a word") {
  std::size_t read = 0;
  for (const auto& entry : std::filesystem::directory_iterator(MINTSPREAD_SPECS)) {
    if (entry.path().extension() != ".yaml") continue;
    INFO(entry.path().string());
    try {
      const auto s = specs::read_specification(entry.path().string());
      CHECK(s.warnings.empty());
      ++read;
    } catch (const specs::RejectedSpecification& rejected) {
      for (const auto& d : rejected.diagnostics) UNSCOPED_INFO(render(d, specs::Colour::none));
      CHECK(false);
    }
  }
  CHECK(read >= 5);
}

TEST_CASE("every bath of an example is told by what the shop sets and measures, one by measured values") {
  std::size_t set = 0, measured = 0;
  for (const auto& entry : std::filesystem::directory_iterator(MINTSPREAD_SPECS)) {
    if (entry.path().extension() != ".yaml") continue;
    INFO(entry.path().string());
    const auto s = specs::read_specification(entry.path().string());
    const auto* route = std::get_if<route::Route>(&s.model.coin);
    if (route == nullptr) continue;
    const auto spreads = [&](InputId id) { return !s.model.inputs[index(id)].components.empty(); };
    for (const auto& step : route->steps) {
      if (std::holds_alternative<route::Anneal>(step))
        CHECK((spreads(std::get<route::Anneal>(step).temperature) && spreads(std::get<route::Anneal>(step).time)));
      if (std::holds_alternative<route::Strike>(step)) CHECK(spreads(std::get<route::Strike>(step).collar));
      const auto* bath = std::get_if<route::Bath>(&step);
      if (bath == nullptr) continue;
      INFO(bath->name);
      if (bath->electrolysis) {
        const auto& of = *bath->electrolysis;
        CHECK((spreads(of.current) && spreads(of.time) && spreads(of.efficiency) && spreads(of.filling)));
        ++set;
      } else {
        const auto& shape = s.model.inputs[index(bath->amount)].components.at(0).deviation;
        CHECK(std::holds_alternative<sampling::Measured>(shape));
        ++measured;
      }
    }
  }
  CHECK(set >= 6);
  CHECK(measured == 1);
}

TEST_CASE("a sort knows the steps that come after it by the name their inputs have") {
  const auto s = specs::read_specification(std::string(MINTSPREAD_SPECS) + "/nickel-copper-nickel.yaml");
  REQUIRE(s.model.sorts.size() == 2);
  CHECK(s.model.sorts[1].later == std::vector<std::string>{"bath outer nickel", "anneal final", "strike"});
  for (const auto& sort : s.model.sorts) {
    for (const std::string& step : sort.later) {
      CAPTURE(step);
      CHECK(std::any_of(s.model.inputs.begin(), s.model.inputs.end(), [&](const auto& i) { return i.step == step; }));
    }
  }
}
