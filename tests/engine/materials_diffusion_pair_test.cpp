// Pairs of metals other than copper and nickel; all of their figures are invented.
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "engine/materials/interdiffusion.hpp"
#include "tests/reference/planar_referee.hpp"
#include "tests/support/blurred_coin.hpp"

using namespace mintspread;
using materials::BlurredBoundary;
using materials::DiffusionPair;
using materials::Properties;
using reference::Complex;
using reference::Layer;
using support::cut;
using support::reading;

namespace {

constexpr double um = 1e-6;

/// The slow coefficient is `ratio` times the quick one at every temperature.
DiffusionPair invented(double ratio, double magnetic_until) {
  DiffusionPair pair{"Pd", "Ag", {ratio * 0.5e-4, 220e3}, {0.5e-4, 220e3}, magnetic_until, {}, {}};
  for (int i = 0; i <= 10; ++i) {
    const double part = 0.1 * i;
    pair.parts.push_back(i == 10 ? 1.0 : part);
    pair.resistivities.push_back(1e-8 * (10.0 - 8.4 * part + 90.0 * part * (1.0 - part)));
  }
  return pair;
}

/// Composition by place in m, the quick metal beyond 0.
using Profile = std::function<double(double)>;

/// One constant coefficient: a film of `depth`, sealed on its far face, on metal without end. Crank, The Mathematics of
/// Diffusion, 2nd ed. 1975, section 2.2.3 (from memory): an extended source of limited extent, half of it.
Profile film(double depth, double theta) {
  const double unit = 2.0 * std::sqrt(theta);
  return [=](double x) { return 0.5 * (std::erf(x / unit) + std::erf((2.0 * depth - x) / unit)); };
}

struct Boundary {
  double ratio, magnetic_until, slow, quick, theta;  ///< thicknesses in m, of the quick metal INT D dt in m2
  Properties of_slow, of_quick;
};

constexpr Layer core{1.6e-3, 6.5e6, 120.0};

/// Slow metal outside, quick metal inside, sealed on the core.
std::vector<Layer> finely_sliced(const Boundary& b, const Profile& profile) {
  const DiffusionPair pair = invented(b.ratio, b.magnetic_until);
  const auto resistivity = materials::resistivity_of(pair);
  constexpr int slices = 600;
  std::vector<Layer> layers;
  const auto slice = [&](int i, double length) {
    const double from = std::pow(double(i) / slices, 2), to = std::pow((i + 1.0) / slices, 2);
    const double c = profile(length * 0.5 * (from + to));
    const double more = (1.0 - c) * (1.0 / b.of_slow.conductivity - pair.resistivities.front()) +
                        c * (1.0 / b.of_quick.conductivity - pair.resistivities.back());
    layers.push_back({std::abs(length) * (to - from), 1.0 / (resistivity(c) + more),
                      1.0 + (b.of_slow.permeability - 1.0) * materials::magnetism(pair, c)});
  };
  const double reach = std::min(b.slow, 1.3 * BlurredBoundary::slow_reach(b.theta, b.ratio * b.theta));
  layers.push_back({b.slow - reach, b.of_slow.conductivity, b.of_slow.permeability});
  for (int i = slices; i-- > 0;) slice(i, -reach);
  for (int i = 0; i < slices; ++i) slice(i, b.quick);
  layers.push_back(core);
  return layers;
}

std::vector<Layer> as_cut(const Boundary& b, const BlurredBoundary& boundary) {
  const auto sublayers = cut(boundary, b.theta, b.ratio * b.theta, b.quick, b.slow, b.of_slow, b.of_quick);
  REQUIRE_FALSE(sublayers.empty());
  double of_slow = 0.0, of_quick = 0.0;
  for (const auto& one : sublayers) {
    of_slow += one.of_slow;
    of_quick += one.of_quick;
  }
  std::vector<Layer> layers = {{b.slow - of_slow, b.of_slow.conductivity, b.of_slow.permeability}};
  for (const auto& one : sublayers) layers.push_back({one.thickness(), one.metal.conductivity, one.metal.permeability});
  layers.push_back({std::max(0.0, b.quick - of_quick), b.of_quick.conductivity, b.of_quick.permeability});
  layers.push_back(core);
  return layers;
}

std::vector<Layer> as_cut(const Boundary& b) { return as_cut(b, BlurredBoundary(invented(b.ratio, b.magnetic_until))); }

double worst_difference(const std::vector<Layer>& cut, const std::vector<Layer>& fine) {
  double worst = 0.0;
  for (const double frequency : {2e3, 2e4, 6e4, 2.4e5, 1e6}) {
    const Complex exact = reading(fine, frequency);
    worst = std::max(worst, std::abs(reading(cut, frequency) - exact) / std::abs(exact));
  }
  return worst;
}

const Properties pale{9e6, 1.0, 0.003}, magnetic{9e6, 60.0, 0.003}, white{60e6, 1.0, 0.0038};

}  // namespace

TEST_CASE("copper and nickel stated again are cut as the built-in pair is, bit by bit", "[diffusion]") {
  // The numbers of the built-in pair once more, by hand, in the other order.
  DiffusionPair again{"Cu", "Ni", {0.62e-4, 223.8e3}, {0.61e-4, 60.7e3 * 4.184}, 0.32, {}, {}};
  const double rows[][2] = {{100, 1.676}, {99, 2.85},  {95, 7.71},  {90, 13.89}, {85, 19.83}, {80, 25.66},
                            {70, 36.72},  {60, 45.38}, {50, 50.05}, {40, 47.73}, {30, 41.79}, {25, 35.11},
                            {15, 23.35},  {10, 17.82}, {5, 12.50},  {1, 8.08},   {0, 6.93}};
  for (const auto& [copper, uohm_cm] : rows) {
    again.parts.push_back(1.0 - 0.01 * copper);
    again.resistivities.push_back(1e-8 * uohm_cm);
  }
  again = materials::turned(again);
  const DiffusionPair& built_in = materials::copper_and_nickel();
  CHECK(again.slow == built_in.slow);
  CHECK(again.in_slow.activation == built_in.in_slow.activation);
  for (std::size_t i = 0; i < built_in.parts.size(); ++i) {
    CHECK(again.parts[i] == Approx(built_in.parts[i]).margin(1e-15));
    again.parts[i] = built_in.parts[i];  // 1 - (1 - 0.01) is not 0.01 to the last bit
  }
  const BlurredBoundary stated(again);
  for (const double celsius : {650.0, 850.0, 950.0})
    for (const double depth : {4 * um, 9 * um, 60 * um}) {
      const double in_copper = materials::nickel_in_copper.at(celsius_zero + celsius) * 1200.0,
                   in_nickel = materials::copper_in_nickel.at(celsius_zero + celsius) * 1200.0;
      const auto one = cut(stated, in_copper, in_nickel, depth, 20 * um, magnetic, white);
      const auto other =
          cut(BlurredBoundary::of_copper_and_nickel(), in_copper, in_nickel, depth, 20 * um, magnetic, white);
      REQUIRE(one.size() == BlurredBoundary::cells);
      REQUIRE(other.size() == BlurredBoundary::cells);
      for (std::size_t i = 0; i < one.size(); ++i) {
        CHECK(one[i].of_slow == other[i].of_slow);
        CHECK(one[i].of_quick == other[i].of_quick);
        CHECK(one[i].metal.conductivity == other[i].metal.conductivity);
        CHECK(one[i].metal.permeability == other[i].metal.permeability);
        CHECK(one[i].metal.temperature_coefficient == other[i].metal.temperature_coefficient);
      }
    }
}

TEST_CASE("a quick layer that has taken in too much of a magnetic metal is not cut", "[diffusion]") {
  // With equal coefficients a film of one unit and a half has half of erf(2 / 3), 33 % of the atoms, where it began.
  const BlurredBoundary pair(invented(1.0, 0.4));
  CHECK_FALSE(cut(pair, 1e-12, 1e-12, 5 * um, 20 * um, magnetic, white).empty());
  CHECK(cut(pair, 1e-12, 1e-12, 0.7 * um, 20 * um, magnetic, white).empty());
  const BlurredBoundary not_magnetic(invented(1.0, 0.0));
  CHECK_FALSE(cut(not_magnetic, 1e-12, 1e-12, 0.7 * um, 20 * um, pale, white).empty());
}

TEST_CASE("a couple of one constant coefficient is the error function's, and a sealed film on thick metal",
          "[diffusion]") {
  // Both layers 10 units thick or more, so that neither end is felt: c = erfc(-x / (2 sqrt(theta))) / 2; then felt.
  for (const double theta : {1e-4, 1e-3, 1e-2, 0.2, 1.0}) {
    materials::Couple couple(1.0, 12.0);
    couple.advance(theta);
    const Profile exact = film(1.0, theta);
    for (double x = -3.0; x < 1.0; x += 0.01) {
      INFO(theta << " " << x);
      CHECK(std::abs(couple.at(x) - exact(x)) < 1e-4);
      if (theta < 0.01) CHECK(std::abs(couple.at(x) - 0.5 * std::erfc(-x / std::sqrt(4.0 * theta))) < 1e-4);
    }
  }
}

TEST_CASE("a couple of coefficients a thousandfold apart hardly changes on a finer grid, and keeps its amount",
          "[diffusion]") {
  for (const double ratio : {1e-3, 3e-3}) {
    materials::Couple usual(ratio, 0.7), finer(ratio, 0.7, 2.0);
    for (const double theta : {0.03, 0.3, 2.0}) {
      usual.advance(theta);
      finer.advance(theta);
      double worst = 0.0;
      for (double x = -0.6; x < 1.0; x += 0.001) worst = std::max(worst, std::abs(usual.at(x) - finer.at(x)));
      INFO(ratio << " " << theta << " " << worst);
      CHECK(worst < 5e-4);
      CHECK(usual.amount() == Approx(1.0).epsilon(1e-12));
    }
  }
}

TEST_CASE("beyond the reach of the slow side there is next to nothing of the other metal", "[diffusion]") {
  for (const double ratio : {1.0, 0.5, 0.1, 0.03, 0.01, 3e-3, 1e-3}) {
    const double spread = 1.0 / BlurredBoundary::quick_reach;
    const double reach = BlurredBoundary::slow_reach(spread * spread, ratio * spread * spread);
    materials::Couple couple(ratio, 1.5 * reach, 2.0);
    couple.advance(spread * spread);
    INFO(ratio << " " << couple.at(-reach));
    CHECK(couple.at(-reach) < 3e-5);
    CHECK(couple.at(-0.8 * reach) > 1e-6);  // nor is it far too long
  }
}

TEST_CASE("the sublayers of other pairs leave less than 1e-4 of the reading", "[diffusion][slow]") {
  std::size_t taken = 0;
  for (const double ratio : {1.0, 0.3, 0.1, 0.03, 0.01, 0.003, 0.001})
    for (const double until : {0.0, 0.1, 0.32})
      for (const double spread : {0.05, 0.1, 0.3, 1.0}) {
        const double quick = 8 * um, theta = std::pow(spread * quick, 2);
        const double reach = BlurredBoundary::slow_reach(theta, ratio * theta);
        if (reach > 12 * um) continue;
        const Boundary b{ratio, until, std::max(reach, 6 * um), quick, theta, until > 0.0 ? magnetic : pale, white};
        materials::Couple couple(ratio, b.slow / quick, 2.0);
        couple.advance(theta / (quick * quick));
        const double off =
            worst_difference(as_cut(b), finely_sliced(b, [&](double x) { return couple.at(x / quick); }));
        INFO(ratio << ", magnetic until " << until << ", spread " << spread << ": " << off);
        CHECK(off < 1e-4);
        if (ratio == 1.0) CHECK(worst_difference(as_cut(b), finely_sliced(b, film(quick, theta))) < 1e-4);
        ++taken;
      }
  CHECK(taken > 60);
}

TEST_CASE("a pair whose coefficients come nearer with the heat is cut as exactly at every ratio", "[diffusion][slow]") {
  // From a thousandth, below which it goes at 500 C, to nine tenths at 1120 C.
  DiffusionPair pair = invented(1.0, 0.1);
  pair.in_slow = {0.9 * pair.in_quick.factor * std::exp(110e3 / (gas_constant * materials::hottest_diffusion)), 330e3};
  CHECK(materials::log_ratio(pair, materials::hottest_diffusion) == Approx(std::log(0.9)));
  CHECK(std::exp(materials::log_ratio(pair, materials::coldest_diffusion)) < BlurredBoundary::least_ratio);
  const BlurredBoundary boundary(pair);
  for (const double ratio : {0.0011, 0.0025, 0.007, 0.015, 0.04, 0.11, 0.33, 0.88})
    for (const double spread : {0.1, 0.25, 0.7}) {
      const double quick = 8 * um, theta = std::pow(spread * quick, 2);
      const double reach = BlurredBoundary::slow_reach(theta, ratio * theta);
      if (reach > 12 * um) continue;
      const Boundary b{ratio, 0.1, std::max(reach, 6 * um), quick, theta, magnetic, white};
      materials::Couple couple(ratio, b.slow / quick, 2.0);
      couple.advance(theta / (quick * quick));
      const double off =
          worst_difference(as_cut(b, boundary), finely_sliced(b, [&](double x) { return couple.at(x / quick); }));
      INFO(ratio << ", spread " << spread << ": " << off);
      CHECK(off < 1e-4);
    }
}
