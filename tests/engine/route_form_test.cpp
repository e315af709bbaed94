#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "engine/base/constants.hpp"
#include "engine/route/form.hpp"
#include "tests/support/inputs.hpp"

using namespace mintspread;
using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;
using test::Inputs;

namespace {

constexpr double um = 1e-6, mm = 1e-3;
/// A handful of roundings in double precision; the routes are closed forms apart from fixed points that are iterated to
/// rounding.
constexpr double rounding = 1e-12;

CoinBlock made(const route::Route& route, const Inputs& inputs) {
  CoinBlock block(route::construction_of(route), Inputs::lanes);
  route::form(route, inputs.columns(), block);
  return block;
}

CoinBlock made(const route::Section& section, const Inputs& inputs) {
  CoinBlock block(route::construction_of(section), Inputs::lanes);
  route::form(section, inputs.columns(), block);
  return block;
}

/// Volume of the outer shape alone: rim ring at full height, field inside it.
double outer_volume(const CoinBlock& block, std::size_t lane) {
  const double outer = block.piece(Piece::diameter)[lane] / 2.0;
  const double inner = outer - block.piece(Piece::rim_width)[lane];
  return pi * inner * inner * block.piece(Piece::field_thickness)[lane] +
         pi * (outer * outer - inner * inner) * block.piece(Piece::thickness)[lane];
}

double sum(const CoinBlock& block, std::size_t lane, bool weighed) {
  double total = 0.0;
  for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
    total += block.of(metal, Of::volume)[lane] * (weighed ? block.of(metal, Of::density)[lane] : 1.0);
  }
  return total;
}

double through_field(const CoinBlock& block, std::size_t lane) {
  double total = 0.0;
  for (const std::size_t metal : block.construction().section) total += block.of(metal, Of::face_thickness)[lane];
  return total;
}

/// Spreads of a factor about 1, another in each lane, the same in each run.
struct Wobble {
  std::uint64_t state = 1;
  double operator()(double by) {
    state = state * 6364136223846793005u + 1442695040888963407u;
    return 1.0 + by * (2.0 * static_cast<double>(state >> 11) * 0x1p-53 - 1.0);
  }
};

}  // namespace

TEST_CASE("a bare blank is a cylinder: mass = density pi/4 d2 t", "[route]") {
  Inputs in;
  const route::Route route{{in.blank(in.copper(), 2.0 * mm, 20.0 * mm)}};
  const auto block = made(route, in);
  // 8.93 g/cm3 x pi/4 x 4 cm2 x 0.2 cm, by hand
  CHECK(block.piece(Piece::mass)[0] == Approx(5.610884482e-3).epsilon(1e-9));
  CHECK(block.piece(Piece::field_thickness)[0] == 2.0 * mm);
  CHECK(block.piece(Piece::thickness)[0] == 2.0 * mm);
  CHECK(block.construction().section == std::vector<std::size_t>{0});
}

TEST_CASE("plating holds the volume between the cylinder before and the cylinder after", "[route]") {
  Inputs in;
  auto bath = in.bath("copper", in.copper(), 0.05 * mm, 4.0);
  bath.mean_to_centre = in(2.0);
  const route::Route route{{in.blank(in.steel(), 2.0 * mm, 20.0 * mm), bath}};
  const auto block = made(route, in);
  // centre 0.05, face mean 0.1, rim 0.2 mm: pi/4 (20.4^2 x 2.2 - 20^2 x 2) mm3 = pi/4 x 115.552 mm3, by hand
  CHECK(block.of(1, Of::volume)[3] == Approx(90.75432857e-9).epsilon(1e-9));
  CHECK(block.piece(Piece::diameter)[3] == Approx(20.4 * mm).epsilon(rounding));
  CHECK(block.piece(Piece::thickness)[3] == Approx(2.2 * mm).epsilon(rounding));
  CHECK(block.piece(Piece::field_thickness)[3] == Approx(2.1 * mm).epsilon(rounding));
  CHECK(block.of(1, Of::rim_thickness)[3] == Approx(0.2 * mm).epsilon(rounding));
  CHECK(block.construction().section == std::vector<std::size_t>{1, 0, 1});
}

TEST_CASE("an areal mass is density times thickness", "[route]") {
  Inputs in;
  auto bath = in.bath("copper", in.copper(), 0.22);  // 22 mg/cm2
  bath.kind = route::Amount::areal_mass;
  const auto block = made(route::Route{{in.blank(in.steel(), 1.5 * mm, 20.0 * mm), bath}}, in);
  CHECK(block.of(1, Of::face_thickness)[0] == Approx(24.63605823 * um).epsilon(1e-9));  // 22e-3 / 8.93 cm, by hand
}

TEST_CASE("volume and mass stay through every way of stating a layer", "[route]") {
  Wobble wobble;
  for (const auto kind : {route::Amount::thickness, route::Amount::areal_mass, route::Amount::mass_fraction})
    for (const auto place : {route::Place::face_centre, route::Place::face_mean, route::Place::rim})
      for (const auto stage : {route::Stage::as_plated, route::Stage::struck})
        for (const auto statistic : {route::Statistic::mean, route::Statistic::local_minimum}) {
          Inputs in;
          const double amount = kind == route::Amount::thickness    ? 22 * um
                                : kind == route::Amount::areal_mass ? 0.2
                                                                    : 0.06;
          auto copper = in.bath("copper", in.copper(), amount, 2.2);
          copper.kind = kind;
          copper.place = place;
          copper.stage = stage;
          copper.statistic = statistic;
          copper.minimum_to_mean = in(0.8);
          copper.mean_to_centre = in(1.15);
          auto nickel = in.bath("nickel", in.nickel(), 6 * um, 1.8);
          nickel.stage = stage;
          const auto blank = in.blank(in.steel(), 1.45 * mm, 21.60 * mm);
          const auto press = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.08 * mm);
          for (std::size_t i = 0; i < in.count(); ++i) {
            for (auto& value : in.lanes_of(static_cast<InputId>(i))) value *= wobble(0.004);
          }
          const auto block = made(route::Route{{blank, copper, nickel, press}}, in);
          const auto columns = in.columns();
          for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
            REQUIRE(block.piece(Piece::diameter)[lane] == columns[index(press.collar)][lane]);
            REQUIRE(block.piece(Piece::thickness)[lane] == columns[index(press.rim_thickness)][lane]);
            const double volume = block.piece(Piece::volume)[lane];
            CHECK(outer_volume(block, lane) == Approx(volume).epsilon(rounding));
            CHECK(sum(block, lane, false) == Approx(volume).epsilon(rounding));
            CHECK(sum(block, lane, true) == Approx(block.piece(Piece::mass)[lane]).epsilon(rounding));
            CHECK(through_field(block, lane) == Approx(block.piece(Piece::field_thickness)[lane]).epsilon(rounding));
            CHECK(block.piece(Piece::field_thickness)[lane] + block.piece(Piece::rim_height_up)[lane] +
                      block.piece(Piece::rim_height_down)[lane] ==
                  Approx(block.piece(Piece::thickness)[lane]).epsilon(rounding));
          }
          if (stage == route::Stage::struck || kind == route::Amount::mass_fraction) continue;
          const auto plated = made(route::Route{{blank, copper, nickel}}, in);
          for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
            const double d = plated.piece(Piece::diameter)[lane], t = plated.piece(Piece::thickness)[lane];
            CHECK(pi / 4 * d * d * t == Approx(block.piece(Piece::volume)[lane]).epsilon(rounding));
            CHECK(plated.piece(Piece::mass)[lane] == Approx(block.piece(Piece::mass)[lane]).epsilon(rounding));
            for (std::size_t metal = 0; metal < 3; ++metal) {
              CHECK(plated.of(metal, Of::volume)[lane] == Approx(block.of(metal, Of::volume)[lane]).epsilon(rounding));
            }
          }
        }
}

TEST_CASE("the strike thins faces and rim by the ratio of their own areas", "[route]") {
  Inputs in;
  const auto blank = in.blank(in.steel(), 1.5 * mm, 19.90 * mm);
  const auto copper = in.bath("copper", in.copper(), 25 * um, 2.0);  // plated: 20.00 mm by 1.55 mm
  const auto press = in.strike(20.4 * mm, 1.8 * mm, 1.0 * mm, 0.15 * mm, 0.05 * mm);
  const auto block = made(route::Route{{blank, copper, press}}, in);
  // (20.00 / 20.40)^2 = 0.961168781; 20.00 x 1.55 / (20.40 x 1.80) = 0.844226580, by hand
  CHECK(block.piece(Piece::face_thinning)[0] == Approx(0.961168781).epsilon(1e-8));
  CHECK(block.of(1, Of::face_thickness)[0] == Approx(25 * um * 0.961168781).epsilon(1e-8));
  CHECK(block.of(1, Of::rim_thickness)[0] == Approx(50 * um * 0.844226580).epsilon(1e-8));
  // Volume 100 x 1.55 pi = 155 pi mm3; rim ring (10.2^2 - 9.2^2) x 1.8 pi = 34.92 pi; field 120.08 / 84.64
  // = 1.418714556 mm, by hand
  CHECK(block.piece(Piece::field_thickness)[0] == Approx(1.418714556 * mm).epsilon(1e-8));
  CHECK(block.piece(Piece::rim_height_up)[0] == Approx(0.75 * 0.381285444 * mm).epsilon(1e-8));
  CHECK(block.piece(Piece::rim_height_down)[0] == Approx(0.25 * 0.381285444 * mm).epsilon(1e-8));
}

TEST_CASE("a layer gets the thickness that was stated, where and when it was stated", "[route]") {
  const auto build = [](Inputs& in, route::Place place, route::Stage stage, route::Statistic statistic) {
    auto copper = in.bath("copper", in.copper(), 18 * um, 2.4);
    copper.place = place;
    copper.stage = stage;
    copper.statistic = statistic;
    copper.mean_to_centre = in(1.2);
    copper.minimum_to_mean = in(0.75);
    return route::Route{{in.blank(in.steel(), 1.45 * mm, 21.60 * mm), copper,
                         in.bath("nickel", in.nickel(), 7 * um, 1.6),
                         in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.1 * mm)}};
  };
  for (const auto stage : {route::Stage::as_plated, route::Stage::struck})
    for (const auto statistic : {route::Statistic::mean, route::Statistic::local_minimum}) {
      const double minimum = statistic == route::Statistic::local_minimum ? 0.75 : 1.0;
      for (const auto place : {route::Place::face_centre, route::Place::face_mean, route::Place::rim}) {
        Inputs in;
        const auto block = made(build(in, place, stage, statistic), in);
        const bool struck = stage == route::Stage::struck;
        const double face = block.of(1, Of::face_thickness)[5] / (struck ? 1.0 : block.piece(Piece::face_thinning)[5]);
        const double rim = block.of(1, Of::rim_thickness)[5] / (struck ? 1.0 : block.piece(Piece::rim_thinning)[5]);
        const double stated = place == route::Place::rim ? rim : place == route::Place::face_mean ? 1.2 * face : face;
        CHECK(minimum * stated == Approx(18 * um).epsilon(rounding));
      }
    }
}

TEST_CASE("a part of the mass is that part of the finished piece", "[route]") {
  Inputs in;
  auto inner = in.bath("inner nickel", in.nickel(), 0.012, 2.0);
  inner.kind = route::Amount::mass_fraction;
  auto copper = in.bath("copper", in.copper(), 0.055, 2.2);
  copper.kind = route::Amount::mass_fraction;
  copper.mean_to_centre = in(1.1);
  copper.piece_to_piece = in(1.0);
  auto outer = in.bath("outer nickel", in.nickel(), 6 * um, 1.5);
  outer.stage = route::Stage::struck;
  in.set(copper.piece_to_piece, 3, 1.2);
  const auto blank = in.blank(in.steel(), 1.45 * mm, 21.60 * mm);
  const auto press = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.1 * mm);
  const auto part = [](const CoinBlock& block, std::size_t metal, std::size_t lane) {
    return block.of(metal, Of::volume)[lane] * block.of(metal, Of::density)[lane] / block.piece(Piece::mass)[lane];
  };
  const auto block = made(route::Route{{blank, inner, copper, outer, press}}, in);
  CHECK(part(block, 1, 0) == Approx(0.012).epsilon(rounding));
  CHECK(part(block, 2, 0) == Approx(0.055).epsilon(rounding));
  CHECK(part(block, 2, 3) == Approx(0.066).epsilon(rounding));
  CHECK(block.of(3, Of::face_thickness)[0] == Approx(6 * um).epsilon(rounding));

  SECTION("on a plated blank that is sold unstruck") {
    outer.stage = route::Stage::as_plated;
    const auto plated = made(route::Route{{blank, inner, copper, outer}}, in);
    CHECK(part(plated, 2, 0) == Approx(0.055).epsilon(rounding));
  }
}

TEST_CASE("the fixed point holds to rounding for plating far beyond production", "[route]") {
  Inputs in;
  auto copper = in.bath("copper", in.copper(), 100 * um, 4.0);
  copper.stage = route::Stage::struck;
  auto bronze = in.bath("bronze", in.metal(6e6, 1.0, 8700.0), 0.15, 4.0);
  bronze.kind = route::Amount::mass_fraction;
  const auto block = made(route::Route{{in.blank(in.steel(), 1.2 * mm, 15.0 * mm), bronze, copper,
                                        in.strike(19 * mm, 2.0 * mm, 0.8 * mm, 0.2 * mm, 0.2 * mm)}},
                          in);
  REQUIRE(block.piece(Piece::diameter)[0] > 0.0);
  CHECK(block.of(2, Of::face_thickness)[0] == Approx(100 * um).epsilon(rounding));
  CHECK(block.of(1, Of::volume)[0] * 8700.0 / block.piece(Piece::mass)[0] == Approx(0.15).epsilon(rounding));
}

TEST_CASE("a piece is the same to the bit whichever pieces stand beside it", "[route]") {
  Inputs in;
  auto copper = in.bath("copper", in.copper(), 0.055, 2.2);
  copper.kind = route::Amount::mass_fraction;
  auto nickel = in.bath("nickel", in.nickel(), 6 * um, 1.8);
  nickel.stage = route::Stage::struck;
  const route::Route route{{in.blank(in.steel(), 1.45 * mm, 21.60 * mm), copper, nickel,
                            in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.1 * mm)}};
  const auto alike = made(route, in);
  for (std::size_t lane = 1; lane < Inputs::lanes; ++lane) {
    in.set(copper.amount, lane, 0.0137 * static_cast<double>(lane));
    in.set(nickel.amount, lane,
           lane == 7 ? std::numeric_limits<double>::quiet_NaN() : 3 * um * static_cast<double>(lane));
  }
  const auto mixed = made(route, in);
  for (std::size_t metal = 0; metal < 3; ++metal) {
    CHECK(mixed.of(metal, Of::face_thickness)[0] == alike.of(metal, Of::face_thickness)[0]);
    CHECK(mixed.of(metal, Of::rim_thickness)[0] == alike.of(metal, Of::rim_thickness)[0]);
  }
  CHECK(mixed.piece(Piece::mass)[0] == alike.piece(Piece::mass)[0]);
  CHECK(mixed.piece(Piece::field_thickness)[0] == alike.piece(Piece::field_thickness)[0]);
}

TEST_CASE("heat and work change the metals they name, in order", "[route]") {
  Inputs in;
  auto press = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.1 * mm);
  press.changes = {{"blank", in(0.97), in(0.5)}};
  const route::Anneal anneal{
      "anneal", in(853.0), in(1800.0), {{"blank", in(1.02), in(1.3)}, {"copper", in(1.1), in(1.0)}}};
  const auto block =
      made(route::Route{{in.blank(in.steel(), 1.45 * mm, 21.60 * mm), in.bath("copper", in.copper(), 20 * um),
                         in.bath("nickel", in.nickel(), 6 * um), anneal, press}},
           in);
  CHECK(block.of(0, Of::conductivity)[0] == Approx(6.5e6 * 1.02 * 0.97).epsilon(rounding));
  CHECK(block.of(0, Of::permeability)[0] == Approx(120.0 * 1.3 * 0.5).epsilon(rounding));
  CHECK(block.of(1, Of::conductivity)[0] == Approx(57e6 * 1.1).epsilon(rounding));
  CHECK(block.of(2, Of::conductivity)[0] == 13e6);
}

TEST_CASE("a piece that cannot be made is NaN in its own lane only", "[route]") {
  Inputs in;
  const auto blank = in.blank(in.steel(), 1.45 * mm, 21.60 * mm);
  const auto copper = in.bath("copper", in.copper(), 18 * um, 2.0);
  const auto press = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.1 * mm);
  const route::Route route{{blank, copper, press}};
  const auto good = made(route, in);
  const double nan = std::numeric_limits<double>::quiet_NaN();
  in.set(copper.amount, 1, -1 * um);
  in.set(blank.thickness, 2, 1.8 * mm);  // more metal than the closed collar holds
  in.set(blank.thickness, 3, 0.2 * mm);  // less than the rim ring
  in.set(press.collar, 4, 21.60 * mm);   // the plated blank does not enter
  in.set(press.rim_width, 5, 11.1 * mm);
  in.set(blank.metal.conductivity, 6, -1.0);
  in.set(copper.metal.permeability, 7, nan);
  in.set(copper.metal.density, 8, 0.0);
  in.set(press.rim_height_up, 9, nan);
  in.set(copper.amount, 10, 0.0);  // no plating in this lane: transparent, not impossible
  in.set(copper.amount, 11, std::numeric_limits<double>::infinity());
  in.set(copper.metal.temperature_coefficient, 12, nan);
  in.set(copper.amount, 13, 1.0 * mm);  // the layers leave no core
  const auto block = made(route, in);
  for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
    INFO("lane " << lane);
    const bool untouched = lane == 0 || lane > 13;
    if (untouched) {
      for (std::size_t metal = 0; metal < 2; ++metal) {
        CHECK(block.of(metal, Of::face_thickness)[lane] == good.of(metal, Of::face_thickness)[lane]);
      }
      CHECK(block.piece(Piece::mass)[lane] == good.piece(Piece::mass)[lane]);
    }
    CHECK(std::isnan(block.piece(Piece::diameter)[lane]) == !(untouched || lane == 10));
  }
}

TEST_CASE("a section weighs what the plated blank of the same layers weighs", "[route]") {
  Inputs in;
  const route::Route route{{in.blank(in.steel(), 1.45 * mm, 21.60 * mm), in.bath("copper", in.copper(), 20 * um, 2.2),
                            in.bath("nickel", in.nickel(), 6 * um, 1.5)}};
  const auto plated = made(route, in);
  const auto layer = [&](const char* name, route::Metal metal, double face, double rim) {
    return route::Section::Layer{name, metal, in(face), in(rim)};
  };
  const auto nickel = in.nickel(), copper = in.copper();
  const route::Section section{
      {layer("outer", nickel, 6 * um, 9 * um), layer("copper", copper, 20 * um, 44 * um),
       layer("core", in.steel(), 1.45 * mm, 0.0), layer("copper below", copper, 20 * um, 44 * um),
       layer("outer below", nickel, 6 * um, 9 * um)},
      2,
      in(21.706 * mm),
      in(0.0),
      in(0.0),
      in(0.0)};
  const auto cut = made(section, in);
  CHECK(cut.construction().core == 2);
  CHECK(cut.piece(Piece::mass)[0] == Approx(plated.piece(Piece::mass)[0]).epsilon(rounding));
  CHECK(cut.of(1, Of::volume)[0] + cut.of(3, Of::volume)[0] == Approx(plated.of(1, Of::volume)[0]).epsilon(rounding));
  CHECK(cut.of(2, Of::volume)[0] == Approx(plated.of(0, Of::volume)[0]).epsilon(rounding));
  CHECK(cut.piece(Piece::field_thickness)[0] == Approx(1.502 * mm).epsilon(rounding));
}

TEST_CASE("a section with a rim holds its outer shape and stacks to rim to rim", "[route]") {
  Inputs in;
  const route::Section section{
      {{"upper", in.copper(), in(30 * um), in(10 * um)}, {"core", in.nickel(), in(1.4 * mm), in(0.0)}},
      1,
      in(22 * mm),
      in(1.0 * mm),
      in(0.12 * mm),
      in(0.08 * mm)};
  const auto block = made(section, in);
  CHECK(block.piece(Piece::thickness)[0] == Approx(1.63 * mm).epsilon(rounding));
  CHECK(sum(block, 0, false) == Approx(outer_volume(block, 0)).epsilon(rounding));
  // copper: 121 x 0.03 pi mm3 on the face, 0.01 x (22 - 0.01) x (0.7 + 0.12) pi mm3 on the upper half of the rim, by
  // hand
  CHECK(block.of(0, Of::volume)[0] == Approx((3.63 + 0.180318) * pi * 1e-9).epsilon(1e-9));
}

TEST_CASE("the struck coin's own layers, read as a section, weigh the same to the order of plating over diameter",
          "[route]") {
  Inputs in;
  const auto nickel = in.nickel(), steel = in.steel();
  const route::Route route{{in.blank(steel, 1.45 * mm, 21.60 * mm), in.bath("nickel", nickel, 25 * um, 2.0),
                            in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.1 * mm)}};
  const auto coin = made(route, in);
  const auto layer = [&](const char* name, const route::Metal& metal, std::size_t position) {
    return route::Section::Layer{name, metal, in(coin.of(position, Of::face_thickness)[0]),
                                 in(coin.of(position, Of::rim_thickness)[0])};
  };
  const route::Section section{{layer("upper", nickel, 1), layer("core", steel, 0), layer("lower", nickel, 1)},
                               1,
                               in(22 * mm),
                               in(0.9 * mm),
                               in(coin.piece(Piece::rim_height_up)[0]),
                               in(coin.piece(Piece::rim_height_down)[0])};
  const auto cut = made(section, in);
  CHECK(cut.piece(Piece::volume)[0] == Approx(coin.piece(Piece::volume)[0]).epsilon(rounding));
  // Layers thin with the whole face: the nickel's volume differs by 2 (thickness / dimension) and the change of the
  // edges.
  CHECK(cut.of(0, Of::volume)[0] + cut.of(2, Of::volume)[0] == Approx(coin.of(1, Of::volume)[0]).epsilon(0.01));
}
