#include <catch2/catch.hpp>
#include <cmath>
#include <complex>

#include "engine/base/constants.hpp"
#include "engine/materials/copper_nickel.hpp"
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
using materials::BlurredBoundary;
using materials::Properties;
using test::Inputs;

namespace {

constexpr double um = 1e-6, mm = 1e-3;
constexpr std::size_t cells = BlurredBoundary::nickel_cells + BlurredBoundary::copper_cells;
const Properties nickel{13e6, 60.0, 0.005}, copper{57e6, 1.0, 0.0038};

/// Nickel, copper, nickel on steel, annealed hot; its parts for a test to change.
struct Triple {
  Inputs in;
  route::Blank blank = in.blank(in.steel(), 1.47 * mm, 21.70 * mm);
  route::Bath inner = in.bath("inner", in.nickel(), 5 * um, 1.6);
  route::Bath middle = in.bath("middle", in.copper(), 18 * um, 2.2);
  route::Bath outer = in.bath("outer", in.nickel(), 6 * um, 1.6);
  route::Anneal anneal{"", in(celsius_zero + 850.0), in(900.0), {}};
  route::Strike strike = in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.15 * mm, 0.15 * mm);
  Triple() {
    blank.metal.composition = {{"Fe", 1.0, 0}};
    inner.metal.composition = outer.metal.composition = {{"Ni", 1.0, 2}};
    middle.metal.composition = {{"Cu", 1.0, 2}};
    anneal.diffusion = true;
    anneal.sealed_under = {"inner"};
  }
  route::Route route() const { return {{blank, inner, middle, outer, anneal, strike}}; }
  CoinBlock made() const {
    CoinBlock block(route::construction_of(route()), Inputs::lanes);
    route::form(route(), in.columns(), block);
    return block;
  }
};

using reference::Complex;
using reference::Layer;

/// Upper half of the coin with the boundaries in some hundreds of slices of the composition itself; what a layer has
/// beyond the pure metal's resistivity is shared by composition.
std::vector<Layer> finely_sliced(double inner, double middle, double outer, double temperature, double time) {
  const double theta = materials::nickel_in_copper.at(temperature) * time, half = middle / 2.0;
  const double ratio = materials::copper_in_nickel.at(temperature) * time / theta;
  materials::Couple couple(ratio, std::max(inner, outer) / half, 3.0);
  couple.advance(theta / (half * half));
  constexpr int slices = 400;
  std::vector<Layer> layers;
  const auto slice = [&](double x, double thickness) {
    const double c = couple.at(x);
    const double more = (1.0 - c) * (1.0 / nickel.conductivity - materials::copper_nickel_resistivity(0.0)) +
                        c * (1.0 / copper.conductivity - materials::copper_nickel_resistivity(1.0));
    layers.push_back({thickness, 1.0 / (materials::copper_nickel_resistivity(c) + more),
                      1.0 + (nickel.permeability - 1.0) * materials::copper_nickel_magnetism(c)});
  };
  const auto at = [](int i) { return (i + 0.5) / slices; };
  for (int i = 0; i < slices; ++i) slice(-outer / half * (1.0 - at(i)), outer / slices);
  for (int i = 0; i < slices; ++i) slice(at(i), half / slices);
  for (int i = slices; i-- > 0;) slice(at(i), half / slices);
  for (int i = slices; i-- > 0;) slice(-inner / half * (1.0 - at(i)), inner / slices);
  layers.push_back({1.6e-3, 6.5e6, 120.0});
  return layers;
}

std::vector<Layer> as_cut(double inner, double middle, double outer, double temperature, double time) {
  const double in_copper = materials::nickel_in_copper.at(temperature) * time;
  const double in_nickel = materials::copper_in_nickel.at(temperature) * time;
  std::array<materials::Sublayer, cells> sublayers{};
  REQUIRE(BlurredBoundary::usual().fill(in_copper, in_nickel, middle / 2.0, outer, nickel, copper, sublayers));
  double of_nickel = 0.0, of_copper = 0.0;
  for (std::size_t i = 0; i < cells; ++i)
    (i < BlurredBoundary::nickel_cells ? of_nickel : of_copper) += sublayers[i].thickness;
  std::vector<Layer> layers;
  const auto add = [&](const materials::Sublayer& one) {
    layers.push_back({one.thickness, one.metal.conductivity, one.metal.permeability});
  };
  layers.push_back({outer - of_nickel, nickel.conductivity, nickel.permeability});
  for (const auto& one : sublayers) add(one);
  layers.push_back({std::max(0.0, middle - 2.0 * of_copper), copper.conductivity, copper.permeability});
  for (std::size_t i = cells; i-- > 0;) add(sublayers[i]);
  layers.push_back({inner - of_nickel, nickel.conductivity, nickel.permeability});
  layers.push_back({1.6e-3, 6.5e6, 120.0});
  return layers;
}

/// Reflected field of a small coil, up to a factor: weight of a ring of some 3.5 mm at 0.4 mm.
Complex reading(const std::vector<Layer>& layers, double frequency) {
  const reference::Stacks stacks(layers, 0.0);
  Complex sum = 0.0;
  for (double k = 50.0; k < 3000.0; k += 50.0) {
    const double ring = std::sin(k * 3.5e-3) * std::exp(-k * 0.4e-3);
    sum +=
        ring * ring *
        reference::response(signature::Coupling::reflected, Complex(0.0, 2.0 * pi * frequency), k, stacks.block(), 0);
  }
  return sum;
}

}  // namespace

TEST_CASE("the sublayers of a blurred boundary leave less than 1e-4 of the reading", "[diffusion]") {
  struct Case {
    double celsius, minutes, middle;
  };
  for (const Case& one : {Case{700, 60, 18 * um},
                          {800, 30, 18 * um},
                          {850, 15, 18 * um},
                          {865, 15, 18 * um},
                          {850, 15, 8 * um},
                          {850, 15, 25 * um},
                          {835, 18, 15 * um}}) {
    const double temperature = celsius_zero + one.celsius, time = 60.0 * one.minutes;
    const auto fine = finely_sliced(5 * um, one.middle, 6 * um, temperature, time);
    const auto cut = as_cut(5 * um, one.middle, 6 * um, temperature, time);
    const std::vector<Layer> sharp = {
        {6 * um, 13e6, 60}, {one.middle, 57e6, 1}, {5 * um, 13e6, 60}, {1.6 * mm, 6.5e6, 120}};
    for (const double frequency : {2e3, 2e4, 6e4, 2.4e5, 1e6}) {
      const Complex exact = reading(fine, frequency);
      INFO(one.celsius << " C, " << one.middle / um << " um, " << frequency << " Hz");
      CHECK(std::abs(reading(cut, frequency) - exact) < 1e-4 * std::abs(exact));
      // It is not for want of an effect.
      if (one.celsius > 840 && frequency > 5e4)
        CHECK(std::abs(reading(sharp, frequency) - exact) > 0.02 * std::abs(exact));
    }
  }
}

TEST_CASE("copper-nickel has the resistivity of its table and no magnetism above 32 at.% copper", "[diffusion]") {
  // Ho et al. 1983 as the CRC Handbook prints it, from memory: 50.05 at 50 % and 13.89 at 90 % of the mass, uohm cm.
  const auto by_mass = [](double mass) { return mass / 63.546 / (mass / 63.546 + (1.0 - mass) / 58.693); };
  CHECK(materials::copper_nickel_resistivity(by_mass(0.5)) == Approx(50.05e-8).epsilon(1e-6));
  CHECK(materials::copper_nickel_resistivity(by_mass(0.9)) == Approx(13.89e-8).epsilon(1e-6));
  // The white coinage alloy of 25 % nickel by suppliers' data sheets: 2.9 to 3.2 MS/m, from memory.
  CHECK(1e-6 / materials::copper_nickel_resistivity(by_mass(0.75)) == Approx(3.05).margin(0.25));
  CHECK(materials::copper_nickel_magnetism(0.0) == 1.0);
  CHECK(materials::copper_nickel_magnetism(0.319) > 0.0);
  CHECK(materials::copper_nickel_magnetism(0.321) == 0.0);
}

TEST_CASE("a blurred piece keeps its section, volume and mass, on steel and on a core that blurs", "[diffusion]") {
  const bool copper_core = GENERATE(false, true);
  Triple hot, cold;
  if (copper_core) {
    for (Triple* one : {&hot, &cold}) {
      one->blank.metal.composition = {{"Cu", 1.0, 0}};
      one->anneal.sealed_under.clear();
      one->in.lanes_of(one->inner.amount).assign(Inputs::lanes, 14 * um);
    }
  }
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

TEST_CASE("hotter or longer leaves less clean copper and less magnetic nickel", "[diffusion]") {
  Triple one;
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
  const auto heat = route::heat_of(anneal, hot, 900.0);
  double sum = materials::nickel_in_copper.at(hot) * 900.0;
  const int steps = 200000;
  for (int i = 0; i < steps; ++i) {
    const double along = (i + 0.5) / steps;
    sum += materials::nickel_in_copper.at(celsius_zero + 20.0 + 830.0 * along) * 1200.0 / steps;
    sum += materials::nickel_in_copper.at(celsius_zero + 850.0 - 415.0 * along) * 600.0 / steps;
  }
  CHECK(heat.in_copper == Approx(sum).epsilon(1e-7));
  const double more = route::heat_of(anneal, hot + 10.0, 900.0).in_copper;
  CHECK(more / heat.in_copper ==
        Approx(materials::nickel_in_copper.at(hot + 10.0) / materials::nickel_in_copper.at(hot)).epsilon(0.02));
}

TEST_CASE("Two layers a boundary, magnetic and not, tell what a rim changes of a blurred coin", "[disc][slow]") {
  // Against every sublayer solved in the disc: what the run uses is planar with every sublayer, times the disc over
  // planar with joined ones, or plus their difference.
  using namespace signature;
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
      CHECK(std::abs(by_ratio - exact) < 1e-4 * std::abs(exact));
      CHECK(std::abs(by_difference - exact) < 1e-4 * std::abs(exact));
    }
  }
}
