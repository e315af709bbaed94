#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "engine/materials/interdiffusion.hpp"
#include "tests/reference/planar_referee.hpp"
#include "tests/support/blurred_coin.hpp"

using namespace mintspread;
using materials::BlurredBoundary;
using materials::Properties;
using reference::Complex;
using reference::Layer;
using support::cut;
using support::reading;

namespace {

constexpr double um = 1e-6, mm = 1e-3;
constexpr std::size_t cells = BlurredBoundary::cells;
const auto resistivity = materials::resistivity_of(materials::copper_and_nickel());

/// A plating and its anneal; without inner nickel the copper lies on the steel, sealed.
struct Heated {
  double inner, middle, outer, temperature, time;
  Properties nickel{13e6, 60.0, 0.005}, copper{57e6, 1.0, 0.0038};
  double copper_depth() const { return inner > 0.0 ? middle / 2.0 : middle; }
  double in_copper() const { return materials::nickel_in_copper.at(temperature) * time; }
  double in_nickel() const { return materials::copper_in_nickel.at(temperature) * time; }
};

/// Upper half of the coin with the boundaries in some hundreds of slices of the composition itself, finest at the
/// boundary; what a layer has beyond the pure metal's resistivity is shared by composition.
std::vector<Layer> finely_sliced(const Heated& coin) {
  const double depth = coin.copper_depth(), theta = coin.in_copper();
  materials::Couple couple(coin.in_nickel() / theta, std::max(coin.inner, coin.outer) / depth, 3.0);
  couple.advance(theta / (depth * depth));
  constexpr int slices = 400;
  std::vector<Layer> layers;
  /// Slice number `i` from the boundary on, over `length` m of copper (positive) or nickel.
  const auto slice = [&](int i, double length) {
    const double from = std::pow(double(i) / slices, 2), to = std::pow((i + 1.0) / slices, 2);
    const double c = couple.at(length / depth * 0.5 * (from + to));
    const double more = (1.0 - c) * (1.0 / coin.nickel.conductivity - resistivity(0.0)) +
                        c * (1.0 / coin.copper.conductivity - resistivity(1.0));
    layers.push_back(
        {std::abs(length) * (to - from), 1.0 / (resistivity(c) + more),
         1.0 + (coin.nickel.permeability - 1.0) * materials::magnetism(materials::copper_and_nickel(), c)});
  };
  for (int i = slices; i-- > 0;) slice(i, -coin.outer);
  for (int i = 0; i < slices; ++i) slice(i, depth);
  if (coin.inner > 0.0) {
    for (int i = slices; i-- > 0;) slice(i, depth);
    for (int i = 0; i < slices; ++i) slice(i, -coin.inner);
  }
  layers.push_back({1.6e-3, 6.5e6, 120.0});
  return layers;
}

std::vector<Layer> as_cut(const Heated& coin) {
  const double nickel_depth = coin.inner > 0.0 ? std::min(coin.inner, coin.outer) : coin.outer;
  const auto sublayers = cut(BlurredBoundary::of_copper_and_nickel(), coin.in_copper(), coin.in_nickel(),
                             coin.copper_depth(), nickel_depth, coin.nickel, coin.copper);
  if (sublayers.empty()) return {};
  double of_slow = 0.0, of_quick = 0.0;
  for (const auto& one : sublayers) {
    of_slow += one.of_slow;
    of_quick += one.of_quick;
  }
  std::vector<Layer> layers;
  const auto add = [&](const materials::Sublayer& one) {
    layers.push_back({one.thickness(), one.metal.conductivity, one.metal.permeability});
  };
  layers.push_back({coin.outer - of_slow, coin.nickel.conductivity, coin.nickel.permeability});
  for (const auto& one : sublayers) add(one);
  const double blurred = coin.inner > 0.0 ? 2.0 * of_quick : of_quick;
  layers.push_back({std::max(0.0, coin.middle - blurred), coin.copper.conductivity, coin.copper.permeability});
  if (coin.inner > 0.0) {
    for (std::size_t i = cells; i-- > 0;) add(sublayers[i]);
    layers.push_back({coin.inner - of_slow, coin.nickel.conductivity, coin.nickel.permeability});
  }
  layers.push_back({1.6e-3, 6.5e6, 120.0});
  return layers;
}

}  // namespace

TEST_CASE("the sublayers of a blurred boundary leave less than 1e-4 of the reading", "[diffusion][slow]") {
  // Coins, metals and anneals all over what is believable, and the usual ones by name; up to 900 C and an hour. (Up to
  // 1000 C and two hours 1.2e-4; nickel of permeability 300 and more leaves up to 2e-4 at 1 MHz, where its skin depth
  // is that of a sublayer.)
  std::vector<Heated> coins;
  for (const auto& [celsius, minutes, middle] : {std::array{700.0, 60.0, 18.0},
                                                 {800.0, 30.0, 18.0},
                                                 {850.0, 15.0, 8.0},
                                                 {850.0, 15.0, 18.0},
                                                 {865.0, 15.0, 25.0}})
    coins.push_back({5 * um, middle * um, 6 * um, celsius_zero + celsius, 60.0 * minutes});
  std::mt19937 random(3);
  const auto between = [&](double from, double to) { return std::uniform_real_distribution<>(from, to)(random); };
  for (int i = 0; i < 72; ++i) {
    coins.push_back({i % 3 == 0 ? 0.0 : between(3 * um, 12 * um), between(5 * um, 40 * um), between(3 * um, 20 * um),
                     celsius_zero + between(620.0, 900.0), 60.0 * between(5.0, 60.0)});
    coins.back().nickel.permeability = std::array{60.0, 2.0, 10.0, 150.0}[static_cast<std::size_t>(i / 3 % 4)];
    coins.back().copper.conductivity = std::array{57e6, 40e6, 30e6}[static_cast<std::size_t>(i / 12 % 3)];
  }
  std::size_t taken = 0;
  for (const Heated& coin : coins) {
    const auto cut = as_cut(coin);
    if (cut.empty()) continue;
    ++taken;
    const auto fine = finely_sliced(coin);
    const std::vector<Layer> sharp = {
        {coin.outer, 13e6, 60}, {coin.middle, 57e6, 1}, {coin.inner, 13e6, 60}, {1.6 * mm, 6.5e6, 120}};
    for (const double frequency : {2e3, 2e4, 6e4, 2.4e5, 1e6, 5e6}) {
      if (frequency > 1e6 && coin.nickel.permeability > 60.0) continue;
      const Complex exact = reading(fine, frequency);
      INFO(coin.temperature - celsius_zero << " C, " << coin.time / 60.0 << " min, " << coin.inner / um << " "
                                           << coin.middle / um << " " << coin.outer / um << " um, " << frequency
                                           << " Hz");
      CHECK(std::abs(reading(cut, frequency) - exact) < 1e-4 * std::abs(exact));
      // It is not for want of an effect.
      if (coin.temperature > celsius_zero + 840 && coin.time == 900 && frequency > 5e4)
        CHECK(std::abs(reading(sharp, frequency) - exact) > 0.02 * std::abs(exact));
    }
  }
  CHECK(taken > 50);
}

TEST_CASE("sublayers of metals of any resistivity conduct, and are as thick as the diffusion reaches", "[diffusion]") {
  std::mt19937 random(4);
  const auto between = [&](double from, double to) { return std::uniform_real_distribution<>(from, to)(random); };
  std::size_t taken = 0;
  for (int i = 0; i < 2000; ++i) {
    const Properties one{between(0.5e6, 14.4e6), between(1.0, 600.0), 0.005}, other{between(1e6, 60e6), 1.0, 0.0038};
    const double temperature = celsius_zero + between(500.0, 1050.0), time = between(0.0, 7200.0);
    const double in_copper = materials::nickel_in_copper.at(temperature) * time;
    const double in_nickel = materials::copper_in_nickel.at(temperature) * time, depth = between(1 * um, 60 * um);
    double of_slow = 0.0, of_quick = 0.0;
    const auto sublayers =
        cut(BlurredBoundary::of_copper_and_nickel(), in_copper, in_nickel, depth, 50 * um, one, other);
    if (sublayers.empty()) continue;
    ++taken;
    for (const auto& sublayer : sublayers) {
      INFO(i << " " << &sublayer - sublayers.data());
      CHECK(sublayer.of_slow >= 0.0);
      CHECK(sublayer.of_quick >= 0.0);
      CHECK(sublayer.metal.conductivity > 0.0);
      CHECK(sublayer.metal.permeability >= 1.0);
      of_slow += sublayer.of_slow;
      of_quick += sublayer.of_quick;
    }
    CHECK(of_slow == Approx(BlurredBoundary::slow_reach(in_copper, in_nickel)).epsilon(1e-12));
    CHECK(of_quick == Approx(std::min(BlurredBoundary::quick_reach * std::sqrt(in_copper), depth)).epsilon(1e-12));
  }
  CHECK(taken > 1000);
}

TEST_CASE("copper-nickel has the resistivity of its table and no magnetism above 32 at.% copper", "[diffusion]") {
  // Ho et al. 1983 as the CRC Handbook prints it, from memory: 50.05 at 50 % and 13.89 at 90 % of the mass, uohm cm.
  const auto by_mass = [](double mass) { return mass / 63.546 / (mass / 63.546 + (1.0 - mass) / 58.693); };
  CHECK(resistivity(by_mass(0.5)) == Approx(50.05e-8).epsilon(1e-6));
  CHECK(resistivity(by_mass(0.9)) == Approx(13.89e-8).epsilon(1e-6));
  // The white coinage alloy of 25 % nickel by suppliers' data sheets: 2.9 to 3.2 MS/m, from memory.
  CHECK(1e-6 / resistivity(by_mass(0.75)) == Approx(3.05).margin(0.25));
  CHECK(materials::magnetism(materials::copper_and_nickel(), 0.0) == 1.0);
  CHECK(materials::magnetism(materials::copper_and_nickel(), 0.319) > 0.0);
  CHECK(materials::magnetism(materials::copper_and_nickel(), 0.321) == 0.0);
}
