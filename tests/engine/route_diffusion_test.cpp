#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <memory>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "engine/materials/interdiffusion.hpp"
#include "engine/route/diffusion.hpp"
#include "engine/route/form.hpp"
#include "engine/signature/disc_state.hpp"
#include "tests/reference/planar_referee.hpp"
#include "tests/support/inputs.hpp"

using namespace mintspread;
using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;
using test::Inputs;

namespace {

constexpr double um = 1e-6, mm = 1e-3;
constexpr std::size_t cells = materials::BlurredBoundary::cells;

/// Nickel, copper, nickel on steel, annealed hot; its parts for a test to change.
struct Triple {
  Inputs in;
  route::Blank blank = in.blank(in.steel(), 1.47 * mm, 21.70 * mm);
  route::Bath inner = in.bath("inner", in.nickel(), 5 * um, 1.6);
  route::Bath middle = in.bath("middle", in.copper(), 18 * um, 2.2);
  route::Bath outer = in.bath("outer", in.nickel(), 6 * um, 1.6);
  route::Anneal anneal{"", in(celsius_zero + 850.0), in(900.0), {}};
  route::Strike strike = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.15 * mm, 0.15 * mm);
  std::vector<std::shared_ptr<const materials::BlurredBoundary>> boundaries = {};
  Triple() {
    blank.metal.composition = {{"Fe", 1.0, 0}};
    inner.metal.composition = outer.metal.composition = {{"Ni", 1.0, 2}};
    middle.metal.composition = {{"Cu", 1.0, 2}};
    anneal.diffusion = true;
    anneal.sealed_under = {"inner"};
  }
  route::Route route() const { return {{blank, inner, middle, outer, anneal, strike}, boundaries}; }
  /// Palladium for nickel and silver for copper, with invented figures.
  void of_a_stated_pair() {
    inner.metal.composition = outer.metal.composition = {{"Pd", 1.0, 2}};
    middle.metal.composition = {{"Ag", 1.0, 1}};
    if (blank.metal.composition[0].element == "Cu") blank.metal.composition = {{"Ag", 1.0, 0}};
    const materials::DiffusionPair pair{"Pd",
                                        "Ag",
                                        {0.3e-4, 240e3},
                                        {0.5e-4, 230e3},
                                        0.2,
                                        {0.0, 0.2, 0.5, 0.8, 1.0},
                                        {7e-8, 25e-8, 34e-8, 20e-8, 1.65e-8}};
    boundaries = {std::make_shared<const materials::BlurredBoundary>(pair)};
  }
  CoinBlock made() const {
    CoinBlock block(route::construction_of(route()), Inputs::lanes);
    route::form(route(), in.columns(), block);
    return block;
  }
};

}  // namespace

TEST_CASE("a blurred piece keeps its section, volume and mass, on steel and on a core that blurs", "[diffusion]") {
  const bool copper_core = GENERATE(false, true), stated = GENERATE(false, true);
  Triple hot, cold;
  if (copper_core) {
    for (Triple* one : {&hot, &cold}) {
      one->blank.metal.composition = {{"Cu", 1.0, 0}};
      one->anneal.sealed_under.clear();
      one->in.lanes_of(one->inner.amount).assign(Inputs::lanes, 14 * um);
    }
  }
  if (stated) hot.of_a_stated_pair(), cold.of_a_stated_pair();
  cold.anneal.diffusion = false;
  for (Triple* one : {&hot, &cold})
    for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
      one->in.set(one->anneal.temperature, lane, celsius_zero + 750.0 + 8.0 * static_cast<double>(lane));
      one->in.set(one->middle.amount, lane, (12.0 + static_cast<double>(lane)) * um);
    }
  const auto a = hot.made(), b = cold.made();
  CHECK(a.construction().section.size() == 7 + (copper_core ? 6 : 4) * cells);
  for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
    INFO(lane);
    REQUIRE(a.piece(Piece::diameter)[lane] == 22 * mm);
    CHECK(a.piece(Piece::volume)[lane] == b.piece(Piece::volume)[lane]);
    CHECK(a.piece(Piece::mass)[lane] == b.piece(Piece::mass)[lane]);
    double section = 0.0;
    for (const auto metal : a.construction().section) {
      CHECK(a.of(metal, Of::face_thickness)[lane] >= 0.0);
      section += a.of(metal, Of::face_thickness)[lane];
    }
    CHECK(section == Approx(a.piece(Piece::field_thickness)[lane]).epsilon(1e-12));
    double rim = 0.0, rim_before = 0.0;
    for (std::size_t metal = 0; metal < a.construction().metals.size(); ++metal)
      rim += a.of(metal, Of::rim_thickness)[lane];
    for (std::size_t metal = 0; metal < 4; ++metal) rim_before += b.of(metal, Of::rim_thickness)[lane];
    CHECK(rim == Approx(rim_before).epsilon(1e-12));
  }
}

TEST_CASE("hotter or longer leaves less clean copper and less magnetic nickel, or of another pair", "[diffusion]") {
  Triple one;
  if (GENERATE(false, true)) one.of_a_stated_pair();
  for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
    one.in.set(one.anneal.temperature, lane, celsius_zero + 700.0 + 20.0 * static_cast<double>(lane % 8));
    one.in.set(one.anneal.time, lane, lane < 8 ? 900.0 : 1000.0);
  }
  const auto block = one.made();
  const auto conductance = [&](std::size_t lane) {
    double sum = 0.0;
    for (std::size_t metal = 1; metal < block.construction().metals.size(); ++metal)
      sum += block.of(metal, Of::face_thickness)[lane] * block.of(metal, Of::conductivity)[lane];
    return sum;
  };
  const auto magnetic = [&](std::size_t lane) {
    double sum = 0.0;
    for (std::size_t metal = 1; metal < block.construction().metals.size(); ++metal)
      sum += block.of(metal, Of::face_thickness)[lane] * (block.of(metal, Of::permeability)[lane] - 1.0);
    return sum;
  };
  for (std::size_t lane = 0; lane < 8; ++lane) {
    if (lane > 0) {
      CHECK(conductance(lane) < conductance(lane - 1));
      CHECK(magnetic(lane) < magnetic(lane - 1));
    }
    CHECK(conductance(lane + 8) < conductance(lane));
    CHECK(magnetic(lane + 8) < magnetic(lane));
  }
}

TEST_CASE("a block that is formed again has nothing left of the pieces before", "[diffusion]") {
  Triple one;
  CoinBlock twice(route::construction_of(one.route()), Inputs::lanes);
  one.in.set(one.anneal.temperature, 3, celsius_zero + 700.0);
  route::form(one.route(), one.in.columns(), twice);
  one.in.set(one.anneal.temperature, 3, celsius_zero + 850.0);
  route::form(one.route(), one.in.columns(), twice);
  const auto once = one.made();
  for (std::size_t metal = 0; metal < once.construction().metals.size(); ++metal)
    for (const Of what : {Of::face_thickness, Of::conductivity, Of::permeability, Of::volume})
      for (std::size_t lane = 0; lane < Inputs::lanes; ++lane)
        CHECK(once.of(metal, what)[lane] == twice.of(metal, what)[lane]);
}

TEST_CASE("a stated pair takes the place of the built-in one", "[diffusion]") {
  Triple one;
  const auto built_in = one.made();
  auto pair = materials::copper_and_nickel();
  pair.in_quick.factor *= 2.0;
  one.boundaries = {std::make_shared<const materials::BlurredBoundary>(pair)};
  const auto stated = one.made();
  const auto conductance = [](const CoinBlock& block) {
    double sum = 0.0;
    for (std::size_t metal = 1; metal < block.construction().metals.size(); ++metal)
      sum += block.of(metal, Of::face_thickness)[0] * block.of(metal, Of::conductivity)[0];
    return sum;
  };
  CHECK(conductance(stated) < 0.95 * conductance(built_in));
  one.boundaries = {std::make_shared<const materials::BlurredBoundary>(materials::copper_and_nickel())};
  const auto again = one.made();
  for (std::size_t metal = 0; metal < again.construction().metals.size(); ++metal)
    CHECK(again.of(metal, Of::conductivity)[0] == built_in.of(metal, Of::conductivity)[0]);
}

TEST_CASE("copper that would come through the nickel is a piece that cannot be computed", "[diffusion]") {
  Triple one;
  one.in.set(one.anneal.temperature, 2, celsius_zero + 1000.0);
  const auto block = one.made();
  CHECK(std::isnan(block.piece(Piece::diameter)[2]));
  CHECK(block.piece(Piece::diameter)[1] == 22 * mm);
}

TEST_CASE("heating and cooling add to the time at heat, and a hotter anneal stretches them", "[diffusion]") {
  route::Anneal anneal;
  anneal.coldest = celsius_zero + 20.0;
  anneal.ramps = {{1200.0, 0.0, 1.0}, {600.0, 1.0, 0.5}};
  const double hot = celsius_zero + 850.0;
  const auto heat = route::heat_of(materials::copper_and_nickel(), anneal, hot, 900.0);
  double sum = materials::nickel_in_copper.at(hot) * 900.0;
  const int steps = 200000;
  for (int i = 0; i < steps; ++i) {
    const double along = (i + 0.5) / steps;
    sum += materials::nickel_in_copper.at(celsius_zero + 20.0 + 830.0 * along) * 1200.0 / steps;
    sum += materials::nickel_in_copper.at(celsius_zero + 850.0 - 415.0 * along) * 600.0 / steps;
  }
  CHECK(heat.in_quick == Approx(sum).epsilon(1e-7));
  const double more = route::heat_of(materials::copper_and_nickel(), anneal, hot + 10.0, 900.0).in_quick;
  CHECK(more / heat.in_quick ==
        Approx(materials::nickel_in_copper.at(hot + 10.0) / materials::nickel_in_copper.at(hot)).epsilon(0.02));
}

TEST_CASE("Three layers a boundary, the magnetic ones joined, tell what a rim changes of a blurred coin",
          "[disc][slow]") {
  // Against every sublayer solved in the disc: what the run uses is planar with every sublayer, times the disc over
  // planar with joined ones, or plus their difference.
  using namespace signature;
  using reference::Complex, reference::Layer;
  Triple coin;
  coin.anneal.sealed_under = {"inner"};
  const CoinBlock joined = coin.made();
  coin::Construction apart = joined.construction();
  apart.joined.clear();
  const Coil face{2e-3, 5e-3, 2e-3, 200}, about{9.5e-3, 12.5e-3, 2e-3, 120};
  Sensor sensor;
  sensor.slot.rest = Rest::below;
  sensor.coils = {{"face", "", Side::below, face, InputId{}}, {"rim", "", Side::below, about, InputId{}}};
  const std::vector<double> width(Inputs::lanes, 2.6 * mm), play(Inputs::lanes, 0.05 * mm),
      temperature(Inputs::lanes, reference_temperature), recess(Inputs::lanes, 0.3 * mm);
  const auto state_of = [&](const DiscState& state) {
    Columns out(state.count(), Inputs::lanes);
    state.write(joined, {width, play, temperature}, {}, std::vector<std::span<const double>>(2, recess), out);
    std::vector<double> one;
    for (std::size_t column = 0; column < state.count(); ++column) one.push_back(out[column][0]);
    return one;
  };
  const DiscState few(joined.construction(), sensor, SideUp::obverse), all(apart, sensor, SideUp::obverse);
  CHECK(few.count() < all.count());
  const auto of_few = state_of(few), of_all = state_of(all);
  for (const double frequency : {20e3, 60e3, 240e3, 1e6}) {
    const Complex s(0.0, 2.0 * pi * frequency);
    const auto disc = [&](const DiscState& state, const std::vector<double>& numbers) {
      const auto placed = state.place(numbers);
      const auto solution = solve_disc(placed.disc, placed.coils, s, {.error = false});
      REQUIRE(solution.status == DiscStatus::solved);
      return solution;
    };
    const auto planar = [&](const DiscState& state, const std::vector<double>& numbers, std::size_t coil) {
      const auto flat = state.flat(numbers, coil, coil);
      std::vector<Layer> layers;
      for (std::size_t i = 0; i < flat.thickness.size(); ++i)
        layers.push_back({flat.thickness[i], flat.conductivity[i], flat.permeability[i]});
      const reference::Stacks stacks(layers, flat.distance);
      const Coil& own = sensor.coils[coil].coil;
      const std::vector<Complex> at{s};
      Columns out(2, 8);
      mutual_inductance(make_rule(own, own, Coupling::reflected, at, stacks.block()), at, stacks.block(), out);
      return Complex(out[0][0], out[1][0]);
    };
    const auto fine = disc(all, of_all), coarse = disc(few, of_few);
    for (const std::size_t coil : {std::size_t{0}, std::size_t{1}}) {
      const Complex exact = fine.between(coil, coil);
      const Complex by_ratio = coarse.between(coil, coil) / planar(few, of_few, coil) * planar(all, of_all, coil);
      const Complex by_difference = coarse.between(coil, coil) - planar(few, of_few, coil) + planar(all, of_all, coil);
      INFO(frequency << " Hz, coil " << coil << ": " << std::abs(coarse.between(coil, coil) - exact) / std::abs(exact)
                     << " by the joined ones alone");
      CHECK(std::abs(by_ratio - exact) < 2e-5 * std::abs(exact));
      CHECK(std::abs(by_difference - exact) < 2e-5 * std::abs(exact));
    }
  }
}
