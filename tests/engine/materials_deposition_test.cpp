#include <catch2/catch.hpp>

#include "engine/base/constants.hpp"
#include "engine/materials/deposition.hpp"
#include "engine/route/form.hpp"
#include "tests/support/inputs.hpp"

using namespace mintspread;
using Of = coin::CoinBlock::Of;
using materials::Constituent;

namespace {

constexpr double um = 1e-6, mm = 1e-3;

/// um of deposit by one ampere in a minute on a square decimetre, at 100 % efficiency.
double rate_um(const std::vector<Constituent>& metal, double density) {
  return 60.0 / (materials::charge_for_mass(metal).value() * density * 1e-2) / um;
}

coin::CoinBlock made(const route::Route& route, const test::Inputs& in) {
  coin::CoinBlock block(route::construction_of(route), test::Inputs::lanes);
  route::form(route, in.columns(), block);
  return block;
}

route::Bath charged(test::Inputs& in, double current, double time, double efficiency, double area, double rim) {
  route::Bath bath = in.bath("nickel", in.nickel(), 1.0, rim);
  bath.kind = route::Amount::charge;
  bath.electrolysis = route::Electrolysis{
      in(current), in(time), in(efficiency),
      in(area),    1.0,      materials::charge_for_mass(std::vector<Constituent>{{"Ni", 1.0, 2}}).value()};
  return bath;
}

}  // namespace

TEST_CASE("an ampere minute deposits what a plating supplier's technical tables print", "[route]") {
  struct Row {
    const char* metal;
    int valence;
    double density, printed;
  };
  // Rates in um for A min/dm2 as printed in a supplier's tables; densities of pure metals, from memory. The tables do
  // not tell their densities, which differ by up to 0.5 % from table to table; half a last digit is another 0.25 %.
  for (const Row& row : {Row{"Sn", 2, 7290, 0.506},
                         {"Sn", 4, 7290, 0.253},
                         {"Cu", 2, 8930, 0.222},
                         {"Cu", 1, 8930, 0.443},
                         {"Ni", 2, 8900, 0.205},
                         {"Fe", 2, 7860, 0.220},
                         {"Zn", 2, 7140, 0.286}}) {
    INFO(row.metal << row.valence);
    CHECK(rate_um({{row.metal, 1.0, row.valence}}, row.density) == Approx(row.printed).epsilon(0.0075));
  }
}

TEST_CASE("two amperes in half an hour deposit the nickel of a public calculator's worked example", "[route]") {
  // 2 A, 30 min, 95 %, 1 dm2: 1.04 g and 11.7 um as printed there.
  const double charge = 2.0 * 1800.0 * 0.95;
  const double mass = charge / materials::charge_for_mass(std::vector<Constituent>{{"Ni", 1.0, 2}}).value();
  CHECK(mass * 1e3 == Approx(1.04).margin(0.005));
  CHECK(mass / (8900.0 * 1e-2) / um == Approx(11.7).margin(0.05));
}

TEST_CASE("an alloy takes the charge of its elements", "[route]") {
  // 70/30 brass from Cu(I) and Zn(II): F (0.7 x 1 / 63.546 + 0.3 x 2 / 65.38) per gram, by hand 1948.3 C
  const auto brass = materials::charge_for_mass(std::vector<Constituent>{{"Cu", 0.7, 1}, {"Zn", 0.3, 2}});
  CHECK(brass.value() * 1e-3 == Approx(1948.3).margin(0.1));
  CHECK_FALSE(materials::charge_for_mass(std::vector<Constituent>{{"Cu", 0.7, 1}, {"Zn", 0.3, 0}}));
  CHECK_FALSE(materials::charge_for_mass(std::vector<Constituent>{{"Xx", 1.0, 2}}));
}

TEST_CASE("the metal on a piece is its part of the charge, however rim and face share it", "[route]") {
  for (const double rim : {0.0, 1.0, 2.2, 4.0}) {
    test::Inputs in;
    auto bath = charged(in, 1300.0, 3600.0, 0.95, 34.0, rim);
    bath.mean_to_centre = in(1.1);
    const auto blank = in.blank(in.steel(), 1.5 * mm, 21.0 * mm);
    const auto block = made(route::Route{{blank, bath}}, in);
    // Mass = 0.95 x 1300 A x 3600 s x M / (2 F) x (pi 21 mm (10.5 + 1.5) mm) / 34 m2, by hand
    const double surface = pi * 21e-3 * 12e-3;
    const double mass = 0.95 * 1300.0 * 3600.0 * 58.693e-3 / (2.0 * 96485.33212) * surface / 34.0;
    CHECK(block.of(1, Of::volume)[0] * 8900.0 == Approx(mass).epsilon(1e-9));
    CHECK(block.of(1, Of::rim_thickness)[0] == Approx(rim * block.of(1, Of::face_thickness)[0]).epsilon(1e-14));
    // Volume of the layer between two cylinders.
    const double r = block.of(1, Of::rim_thickness)[0], m = 1.1 * block.of(1, Of::face_thickness)[0];
    const double volume = pi / 4.0 * ((21e-3 + 2 * r) * (21e-3 + 2 * r) * (1.5e-3 + 2 * m) - 21e-3 * 21e-3 * 1.5e-3);
    CHECK(volume == Approx(block.of(1, Of::volume)[0]).epsilon(1e-12));
  }
}

TEST_CASE("a layer far thicker than any plating still holds all the metal of its charge", "[route]") {
  for (const double rim : {1.0, 4.0, 20.0}) {
    test::Inputs in;
    // A thousand times the charge of before: a heavier layer than the blank.
    const auto bath = charged(in, 1300.0, 3.6e6, 0.95, 34.0, rim);
    const auto blank = in.blank(in.steel(), 1.5 * mm, 21.0 * mm);
    const auto block = made(route::Route{{blank, bath}}, in);
    // Faraday's constant is e N_A, both exact in the SI (BIPM, SI brochure, 9th edition, 2019).
    const double faraday = 1.602176634e-19 * 6.02214076e23;
    const double mass = 0.95 * 1300.0 * 3.6e6 * 58.693e-3 / (2.0 * faraday) * (pi * 21e-3 * 12e-3) / 34.0;
    CAPTURE(rim);
    CHECK(block.of(1, Of::volume)[0] * 8900.0 == Approx(mass).epsilon(1e-12));
  }
}

TEST_CASE("pieces of one load take metal as their surface, so a larger blank has no thicker a layer", "[route]") {
  test::Inputs in;
  const auto bath = charged(in, 1300.0, 3600.0, 0.95, 34.0, 1.0);
  const auto blank = in.blank(in.steel(), 1.5 * mm, 21.0 * mm);
  in.set(blank.diameter, 3, 21.5 * mm);
  const auto block = made(route::Route{{blank, bath}}, in);
  CHECK(block.of(1, Of::volume)[3] > 1.02 * block.of(1, Of::volume)[0]);
  // A layer that wraps edges is thinner by its thickness over the piece's: 7 um on 1.5 mm, changing little with size.
  CHECK(block.of(1, Of::face_thickness)[3] == Approx(block.of(1, Of::face_thickness)[0]).epsilon(1e-4));
}

TEST_CASE("pickling and burnishing take off what lies between two cylinders, from the outermost metal", "[route]") {
  test::Inputs in;
  const auto blank = in.blank(in.steel(), 1.5 * mm, 21.0 * mm);
  const route::Removal pickle{"pickle", in(2 * um), in(1.0)}, burnish{"burnish", in(0.5 * um), in(1.5)};
  const auto copper = in.bath("copper", in.copper(), 18 * um, 2.0);
  const auto block = made(route::Route{{blank, pickle, copper, burnish}}, in);
  // By hand: steel pi/4 20.996^2 x 1.496 mm3; outside 20.996 + 2 x 36 um - 2 x 0.75 um by 1.496 + 36 um - 1 um
  CHECK(block.of(0, Of::volume)[0] == Approx(pi / 4 * 20.996 * 20.996 * 1.496e-9).epsilon(1e-12));
  CHECK(block.of(1, Of::face_thickness)[0] == Approx(17.5 * um).epsilon(1e-12));
  CHECK(block.of(1, Of::rim_thickness)[0] == Approx(35.25 * um).epsilon(1e-12));
  CHECK(block.piece(coin::CoinBlock::Piece::diameter)[0] == Approx(21.0665 * mm).epsilon(1e-12));
  CHECK(block.piece(coin::CoinBlock::Piece::volume)[0] == Approx(pi / 4 * 21.0665 * 21.0665 * 1.531e-9).epsilon(1e-12));
  double section = 0.0;
  for (const auto metal : block.construction().section) section += block.of(metal, Of::face_thickness)[0];
  CHECK(section == Approx(block.piece(coin::CoinBlock::Piece::field_thickness)[0]).epsilon(1e-12));
}

TEST_CASE("volume and mass stay through baths by charge, removals and the strike", "[route]") {
  test::Inputs in;
  const auto blank = in.blank(in.steel(), 1.45 * mm, 21.60 * mm);
  auto share = in.bath("copper", in.copper(), 0.05, 2.2);
  share.kind = route::Amount::mass_fraction;
  const auto nickel = charged(in, 500.0, 5400.0, 0.94, 34.0, 1.6);
  const route::Removal pickle{"pickle", in(1 * um), in(1.2)}, burnish{"burnish", in(0.4 * um), in(2.0)};
  const auto press = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.08 * mm);
  for (std::size_t lane = 0; lane < test::Inputs::lanes; ++lane)
    in.set(nickel.piece_to_piece, lane, 0.7 + 0.04 * static_cast<double>(lane));
  const auto block = made(route::Route{{blank, pickle, share, nickel, burnish, press}}, in);
  using Piece = coin::CoinBlock::Piece;
  for (std::size_t lane = 0; lane < test::Inputs::lanes; ++lane) {
    REQUIRE(block.piece(Piece::diameter)[lane] == 22 * mm);
    const double outer = 11 * mm, inner = outer - 0.9 * mm, volume = block.piece(Piece::volume)[lane];
    CHECK(pi * inner * inner * block.piece(Piece::field_thickness)[lane] +
              pi * (outer * outer - inner * inner) * block.piece(Piece::thickness)[lane] ==
          Approx(volume).epsilon(1e-12));
    double mass = 0.0;
    for (std::size_t metal = 0; metal < 3; ++metal)
      mass += block.of(metal, Of::volume)[lane] * block.of(metal, Of::density)[lane];
    CHECK(mass == Approx(block.piece(Piece::mass)[lane]).epsilon(1e-12));
    CHECK(block.of(1, Of::volume)[lane] * 8930.0 == Approx(0.05 * mass).epsilon(1e-12));
  }
  const auto unstruck = made(route::Route{{blank, pickle, share, nickel, burnish}}, in);
  for (std::size_t lane = 0; lane < test::Inputs::lanes; ++lane)
    for (std::size_t metal = 0; metal < 3; ++metal)
      CHECK(unstruck.of(metal, Of::volume)[lane] == Approx(block.of(metal, Of::volume)[lane]).epsilon(1e-12));
}
