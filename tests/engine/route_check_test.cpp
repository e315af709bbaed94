#include <catch2/catch.hpp>

#include "engine/route/check.hpp"
#include "tests/support/inputs.hpp"

using namespace mintspread;
using Catch::Matchers::Contains;
using test::Inputs;

namespace {

constexpr double um = 1e-6, mm = 1e-3;

struct Found {
  std::vector<Problem> problems, warnings;
};

template <class Coin>
Found check(const Coin& coin, const Inputs& in) {
  Found found;
  route::check(coin, in.columns(), found.problems, found.warnings);
  return found;
}

/// A believable two-layer route and its parts, for a test to spoil.
struct Believable {
  Inputs in;
  route::Blank blank = in.blank(in.steel(), 1.47 * mm, 21.70 * mm);
  route::Bath copper = in.bath("copper", in.copper(), 18 * um, 2.2);
  route::Bath nickel = in.bath("nickel", in.nickel(), 6 * um, 1.6);
  route::Anneal anneal{"", in(273.15 + 580.0), in(1800.0), {}};
  route::Strike strike = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.15 * mm, 0.15 * mm);
  route::Route route() const { return {{blank, copper, nickel, anneal, strike}}; }
};

void only_problem(const Found& found, const std::string& path, const std::string& what) {
  REQUIRE(found.problems.size() == 1);
  CHECK(found.problems[0].path == path);
  CHECK_THAT(found.problems[0].what, Contains(what));
  CHECK_FALSE(found.problems[0].remedy.empty());
}

}  // namespace

TEST_CASE("a believable route passes without a word", "[route]") {
  const Believable a;
  const auto found = check(a.route(), a.in);
  for (const auto& problem : found.problems) UNSCOPED_INFO(problem.path << ": " << problem.what);
  for (const auto& warning : found.warnings)
    UNSCOPED_INFO(warning.path << ": " << warning.what << " " << warning.remedy);
  CHECK(found.problems.empty());
  CHECK(found.warnings.empty());
}

TEST_CASE("above 600 C a plated piece's layers are told to diffuse, and only pairs with data do", "[route]") {
  Believable a;
  a.anneal.temperature = a.in(273.15 + 850.0);
  only_problem(check(a.route(), a.in), "anneal.diffusion", "850 degC");
  CHECK(check(route::Route{{a.blank, a.anneal, a.copper, a.nickel, a.strike}}, a.in).problems.empty());
  a.anneal.diffusion = true;
  a.blank.metal.composition = {{"Fe", 1.0, 0}};
  a.copper.metal.composition = {{"Cu", 1.0, 2}};
  a.nickel.metal.composition = {{"Ni", 1.0, 2}};
  only_problem(check(a.route(), a.in), "anneal", "invented (Fe) and invented (Cu)");
  a.anneal.sealed_under = {"copper"};
  a.anneal.time = a.in(900.0);
  {
    // What else the message says to do: the alloyed zone as a layer of its own.
    Believable b;
    b.anneal = {"", b.in(273.15 + 850.0), b.in(900.0), {}};
    b.anneal.diffusion = true;
    b.blank.metal.composition = {{"Fe", 1.0, 0}};
    b.copper.metal.composition = {{"Cu", 1.0, 2}};
    b.nickel.metal.composition = {{"Ni", 1.0, 2}};
    b.anneal.sealed_under = {"zone", "copper"};
    const auto zone = b.in.bath("zone", b.in.metal(3e6, 1.0, 8400.0), 1.5 * um);
    CHECK(check(route::Route{{b.blank, zone, b.copper, b.nickel, b.anneal, b.strike}}, b.in).problems.empty());
  }
  CHECK(check(a.route(), a.in).problems.empty());
  a.anneal.temperature = a.in(273.15 + 970.0);
  only_problem(check(a.route(), a.in), "anneal.temperature", "through it");
  a.anneal.temperature = a.in(273.15 + 1070.0);
  only_problem(check(a.route(), a.in), "anneal.temperature", "near the melting point");
}

TEST_CASE("stated rim heights that volume contradicts are warned of with the strip that would agree", "[route]") {
  Believable a;
  a.strike.rim_height_up = a.in(0.25 * mm);
  auto found = check(a.route(), a.in);
  CHECK(found.problems.empty());
  REQUIRE(found.warnings.size() == 1);
  CHECK(found.warnings[0].path == "strike.rim height");
  CHECK_THAT(found.warnings[0].what, Contains("0.400 mm together"));
  // The remedy must be true: with that strip the warning is gone.
  const auto& remedy = found.warnings[0].remedy;
  const double strip = std::stod(remedy.substr(remedy.find_first_of("0123456789")));
  a.blank.thickness = a.in(strip * mm);
  CHECK(check(a.route(), a.in).warnings.empty());
}

TEST_CASE("a piece the press cannot make is refused with the volumes", "[route]") {
  Believable a;
  SECTION("more metal than the closed collar holds") {
    a.blank.thickness = a.in(1.9 * mm);
    only_problem(check(a.route(), a.in), "strike.rim thickness", "cannot close to 1.750 mm");
  }
  SECTION("no field is left") {
    a.strike.rim_width = a.in(8 * mm);
    a.blank.thickness = a.in(1.2 * mm);
    only_problem(check(a.route(), a.in), "strike.rim thickness", "no field is left");
  }
  SECTION("the blank does not enter the collar") {
    a.strike.collar = a.in(21.6 * mm);
    a.blank.thickness = a.in(1.40 * mm);
    only_problem(check(a.route(), a.in), "strike.collar", "does not enter the collar, 21.600 mm");
  }
  SECTION("the rim reaches the middle") {
    a.strike.rim_width = a.in(11 * mm);
    only_problem(check(a.route(), a.in), "strike.rim width", "whose radius is 11.000 mm");
  }
}

TEST_CASE("layers thicker than the blank are refused at the layer that makes them so", "[route]") {
  Believable a;
  a.nickel.amount = a.in(6e-3);  // mm for um
  // 2 x 18 um of copper and 2 x 6 mm of nickel, as plated.
  only_problem(check(a.route(), a.in), "bath.nickel.thickness",
               "12036.0 um on both faces together on a strip of 1470.0 um");
}

TEST_CASE("steps out of order are refused together", "[route]") {
  Believable a;
  auto late = a.in.bath("copper", a.in.copper(), 5 * um);
  const auto found = check(route::Route{{a.copper, a.blank, a.strike, a.strike, late, a.blank}}, a.in);
  std::vector<std::string> paths;
  for (const auto& problem : found.problems) paths.push_back(problem.path);
  CHECK(paths == std::vector<std::string>{"route", "strike", "bath.copper", "bath.copper", "blank"});
  CHECK_THAT(found.problems[0].what, Contains("begins with its blank"));
  CHECK(check(route::Route{}, a.in).problems.size() == 1);
}

TEST_CASE("a change of what is not on the piece is refused, naming what is", "[route]") {
  Believable a;
  a.anneal.changes = {{"nickel", a.in(1.1), a.in(2.0)}};
  const auto found = check(route::Route{{a.blank, a.copper, a.anneal, a.nickel, a.strike}}, a.in);
  only_problem(found, "anneal.changes.nickel", "\"nickel\" is not on the piece");
  CHECK_THAT(found.problems[0].remedy, Contains("blank, copper"));
}

TEST_CASE("single values out of range are refused, all at once", "[route]") {
  Believable a;
  a.blank.metal.density = a.in(0.0);
  a.copper.amount = a.in(-18 * um);
  a.nickel.minimum_to_mean = a.in(1.2);
  a.nickel.statistic = route::Statistic::local_minimum;
  a.strike.rim_height_down = a.in(-0.1 * mm);
  CHECK(check(a.route(), a.in).problems.size() == 4);
}

TEST_CASE("a struck thickness needs a strike", "[route]") {
  Believable a;
  a.copper.stage = route::Stage::struck;
  CHECK(check(a.route(), a.in).problems.empty());
  only_problem(check(route::Route{{a.blank, a.copper}}, a.in), "bath.copper.thickness", "no strike");
}

TEST_CASE("layers that would be the whole mass are refused", "[route]") {
  Believable a;
  a.copper.kind = a.nickel.kind = route::Amount::mass_fraction;
  a.copper.amount = a.in(0.6);
  a.nickel.amount = a.in(0.4);
  only_problem(check(a.route(), a.in), "bath.nickel.thickness", "all of the finished piece's mass");
}

TEST_CASE("a section is checked layer by layer", "[route]") {
  Inputs in;
  route::Section section{{{"upper", in.nickel(), in(6 * um), in(8 * um)}, {"core", in.steel(), in(1.5 * mm), in(0.0)}},
                         1,
                         in(22 * mm),
                         in(0.9 * mm),
                         in(0.1 * mm),
                         in(0.1 * mm)};
  CHECK(check(section, in).problems.empty());
  SECTION("no layers") {
    section.layers.clear();
    only_problem(check(section, in), "section.layers", "has layers");
  }
  SECTION("twice the same name") {
    section.layers[0].name = "core";
    only_problem(check(section, in), "section.layers.core", "taken by a layer before it");
  }
  SECTION("rim plating thicker than the radius") {
    section.layers[0].rim_thickness = in(11 * mm);
    only_problem(check(section, in), "section.layers.upper.rim thickness", "thicker than the coin's radius");
  }
  SECTION("negative thickness") {
    section.layers[1].thickness = in(-1.0);
    only_problem(check(section, in), "section.layers.core.thickness", "above zero");
  }
}
