#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/signature/disc_solve.hpp"
#include "engine/signature/disc_system.hpp"
#include "tests/reference/planar_referee.hpp"

// Limits of the finite disc that have a closed form, and what any passive, reciprocal, linear arrangement obeys.

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using reference::Complex;

Complex harmonic(double frequency) { return {0.0, 2.0 * pi * frequency}; }

constexpr Coil face{2e-3, 5e-3, 2e-3, 200};

/// An invented plated coin with a raised rim.
Disc raised_coin() {
  return {22e-3,
          1.5e-3,
          0.9e-3,
          0.13e-3,
          0.11e-3,
          {6.7e6, 113},
          {DiscLayer::wrapped(6e-6, 9.6e-6, {13e6, 58}), DiscLayer::wrapped(22e-6, 45e-6, {55e6, 1})}};
}

std::vector<DiscCoil> four_coils(double radius) {
  const Coil rim{radius - 1.5e-3, radius + 1.5e-3, 2e-3, 120};
  return {
      {face, Side::above, 0.4e-3}, {rim, Side::above, 0.4e-3}, {face, Side::below, 0.6e-3}, {rim, Side::below, 0.6e-3}};
}

double relative(Complex a, Complex b) { return std::abs(a - b) / std::abs(b); }

}  // namespace

TEST_CASE("A disc of great radius reads as the planar stack, reflected and through", "[disc][slow]") {
  // The exact planar integral by panels (Dodd & Deeds 1968; tests/reference/planar_referee.hpp).
  const std::vector<reference::Layer> stack{{25e-6, 12e6, 100}, {1.65e-3, 7e6, 150}, {25e-6, 12e6, 100}};
  const std::vector<reference::Layer> white{{1.95e-3, 2.9e6, 1}};
  for (const double frequency : {1e3, 2e4, 1.2e6}) {
    const std::vector<DiscCoil> coils{{face, Side::above, 0.5e-3}, {face, Side::below, 0.5e-3}};
    const reference::Stacks planar(stack, 1e-3);
    const Disc plated{0.4, 1.7e-3, 0, 0, 0, {7e6, 150}, {DiscLayer::wrapped(25e-6, 0, {12e6, 100})}};
    const auto disc = solve_disc(plated, coils, harmonic(frequency), {DiscResolution::standard, false, false});
    INFO(frequency);
    CHECK(relative(disc.between(0, 0), reference::integral(face, face, signature::Coupling::reflected,
                                                           harmonic(frequency), planar.block(), 0)) < 1e-3);
    const reference::Stacks plate(white, 1e-3);
    const auto thick = solve_disc({0.4, 1.95e-3, 0, 0, 0, {2.9e6, 1}, {}}, coils, harmonic(frequency),
                                  {DiscResolution::standard, false, false});
    CHECK(relative(thick.between(0, 0), reference::integral(face, face, signature::Coupling::reflected,
                                                            harmonic(frequency), plate.block(), 0)) < 1e-3);
    // Through: at 1.2 MHz 2e-4 of the air value is left, and what goes round the edge is no longer small beside it.
    if (frequency < 1e5)
      CHECK(relative(thick.between(0, 1), reference::integral(face, face, signature::Coupling::transmitted,
                                                              harmonic(frequency), plate.block(), 0)) < 1e-3);
  }
}

TEST_CASE("A thick non-conducting magnetic disc of great radius mirrors by (mu_r - 1)/(mu_r + 1)", "[disc]") {
  // Method of images: dM = M(coil and its image) (mu_r - 1)/(mu_r + 1); pi mu0 INT W^2 exp(-2 k z) dk is that M.
  const double gap = 0.5e-3, permeability = 50.0;
  double image = 0.0;
  for (int i = 0; i < 400; ++i)
    image += boost::math::quadrature::gauss<double, 20>::integrate(
        [&](double k) { return pi * mu0 * std::pow(coil_weight(face, k), 2) * std::exp(-2.0 * k * gap); }, 50.0 * i,
        50.0 * (i + 1));
  const Disc block{0.4, 0.2, 0, 0, 0, {0.0, permeability}, {}};
  const std::vector<DiscCoil> coils{{face, Side::above, gap}};
  const auto solution = solve_disc(block, coils, harmonic(1e3), {DiscResolution::standard, false, false});
  CHECK(relative(solution.between(0, 0), image * (permeability - 1.0) / (permeability + 1.0)) < 1e-3);
}

TEST_CASE("A thin perfectly conducting disc in a uniform field has the moment -8/3 a^3 H", "[disc]") {
  // The magnetic polarizability of a thin perfectly conducting disc, -(8/3) a^3 (Jackson, Classical Electrodynamics,
  // from memory). A loop at a distance drives and receives: dM = mu0 H^2 m / H, with R^2 / (2 (R^2 + z^2)^(3/2)) its
  // field on the axis. The field's curvature over the disc weighs as (a/R)^2, which two loops of the same shape
  // extrapolate away; the fourth power is left, 1e-3 of the larger term. The disc's thickness is 1e-4 a. It conducts
  // well beyond its own decay, 0.18 mu0 conductivity a d.
  const double a = 5e-3;
  const auto ratio = [&](double loop) {
    const Coil ring{loop - 0.5e-3, loop + 0.5e-3, 1e-3, 1};
    const double gap = 0.75 * loop, z = gap + 0.5e-3;
    const double field = loop * loop / (2.0 * std::pow(loop * loop + z * z, 1.5));
    const Disc disc{2.0 * a, 0.5e-6, 0, 0, 0, {1e13, 1}, {}};
    const std::vector<DiscCoil> coils{{ring, Side::above, gap}};
    const auto solution = solve_disc(disc, coils, harmonic(1e7), {DiscResolution::fine, false, false});
    return (solution.between(0, 0) / (-mu0 * field * field * 8.0 / 3.0 * a * a * a)).real();
  };
  const double near = ratio(30e-3), far = ratio(30e-3 * std::sqrt(2.0));
  INFO(near << " " << far);
  CHECK(std::abs(2.0 * far - near - 1.0) < 3e-3);
}

TEST_CASE("At low frequency a non-magnetic disc dissipates what the coil's field in air drives through it",
          "[disc][slow]") {
  // First order in conductivity: R = w^2 INT 2 pi r conductivity A0^2 dr dz per A^2, with A0 = (mu0/2) INT W(k) J1(k r)
  // exp(k z) dk the coil's potential in air (Dodd & Deeds 1968). This is the energy balance: power = Re dZ I^2.
  const Coil coil{5e-3, 8e-3, 2e-3, 100};
  const double gap = 1e-3, radius = 10e-3, thickness = 1.95e-3, conductivity = 2.9e6, frequency = 10.0;
  using Points = boost::math::quadrature::gauss<double, 20>;
  const auto potential = [&](double r, double z) {
    double sum = 0.0;
    for (int i = 0; i < 80; ++i)
      sum += Points::integrate(
          [&](double k) {
            return coil_weight(coil, k) * boost::math::cyl_bessel_j(1, k * r) * std::exp(-k * (gap + z));
          },
          150.0 * i, 150.0 * (i + 1));
    return 0.5 * mu0 * sum;
  };
  double integral = 0.0;
  using Few = boost::math::quadrature::gauss<double, 10>;
  for (int i = 0; i < 4; ++i)
    integral += Few::integrate(
        [&](double r) {
          return Few::integrate([&](double z) { return 2.0 * pi * r * std::pow(potential(r, z), 2); }, 0.0, thickness);
        },
        0.25 * radius * i, 0.25 * radius * (i + 1));
  const double w = 2.0 * pi * frequency, resistance = w * w * conductivity * integral;
  const auto solution = solve_disc({2.0 * radius, thickness, 0, 0, 0, {conductivity, 1}, {}},
                                   std::vector<DiscCoil>{{coil, Side::above, gap}}, harmonic(frequency),
                                   {DiscResolution::fine, false, false});
  const double found = (harmonic(frequency) * solution.between(0, 0)).real();
  INFO(found << " against " << resistance);
  CHECK(std::abs(found - resistance) < 1e-4 * resistance);
}

TEST_CASE("What the coin's eddy currents dissipate is the real part of the impedance change", "[disc][slow]") {
  // Energy balance at any frequency: Re dZ = w^2 INT 2 pi r conductivity |A|^2 dr dz per A^2, A the potential in the
  // metal. Layers of the core's own metal put levels, where the potential is known, on the Gauss points in z.
  using Points = boost::math::quadrature::gauss<double, 20>;
  const double thickness = 1.7e-3;
  std::vector<double> depth, weight;
  for (std::size_t i = 0; i < Points::abscissa().size(); ++i)
    for (const double side : {-1.0, 1.0}) {
      depth.push_back(0.5 * thickness * (1.0 + side * Points::abscissa()[i]));
      weight.push_back(0.5 * thickness * Points::weights()[i]);
    }
  for (const DiscMetal metal : {DiscMetal{2.9e6, 1.0}, DiscMetal{6.7e6, 150.0}})
    for (const double frequency : {200.0, 4e3, 60e3}) {
      const double skin = 1.0 / std::sqrt(pi * frequency * mu0 * metal.permeability * metal.conductivity);
      if (skin < 0.1 * thickness) continue;  // 20 points do not resolve it
      Disc disc{20e-3, thickness, 0, 0, 0, metal, {}};
      auto sorted = depth;
      std::ranges::sort(sorted);
      double above = 0.0;
      for (const double at : sorted) {
        disc.layers.push_back({at - above, 0, 0, at - above, 0, metal});
        above = at;
      }
      const std::vector<DiscCoil> coils{{face, Side::above, 0.5e-3}};
      const Complex s = harmonic(frequency);
      const DiscMeshing meshing{6, 1.0, 0.7, 0.0007, 0.00015, 300.0, 0.5};
      const DiscSystem system(disc, coils, s, meshing);
      double power = 0.0;
      for (std::size_t i = 0; i < depth.size(); ++i) {
        const auto level = std::ranges::find_if(system.section.levels, [&](const DiscPlace& place) {
          return std::abs(system.section.levels.front().at - place.at - depth[i]) < 1e-9;
        });
        REQUIRE(level != system.section.levels.end());
        const auto at = static_cast<std::size_t>(level - system.section.levels.begin());
        const auto conductance = system.radial.conductance(system.section.profiles[system.section.slabs[at]]);
        const auto& a = system.potentials[at][0];
        double square = 0.0;
        for (std::size_t row = 0; row < a.size(); ++row)
          for (std::size_t column = 0; column < a.size(); ++column)
            square += conductance.at(row, column) * (std::conj(a[row]) * a[column]).real();
        power += weight[i] * 2.0 * pi * square * std::norm(s);
      }
      const double resistance = (s * solve_on_mesh(disc, coils, s, meshing, false).between(0, 0)).real();
      INFO(metal.permeability << " at " << frequency << " Hz: " << power << " against " << resistance);
      CHECK(std::abs(power - resistance) < 1e-4 * resistance);
    }
}

TEST_CASE("A coin is passive, reciprocal, and does not know which way is up", "[disc][slow]") {
  const Disc coin = raised_coin();
  Disc turned = coin;
  std::swap(turned.rim_height_up, turned.rim_height_down);
  auto coils = four_coils(11e-3), below = coils;
  for (auto& coil : below) coil.side = coil.side == Side::above ? Side::below : Side::above;
  for (const double frequency : {4e3, 6e4, 1e6}) {
    const Complex s = harmonic(frequency);
    const auto one = solve_disc(coin, coils, s, {DiscResolution::standard, false, false});
    const auto other = solve_disc(turned, below, s, {DiscResolution::standard, false, false});
    for (std::size_t i = 0; i < 4; ++i) {
      for (std::size_t j = 0; j < 4; ++j) {
        INFO(frequency << " Hz, coils " << i << " and " << j);
        CHECK(relative(one.between(i, j), one.between(j, i)) < 1e-8);
        CHECK(relative(one.between(i, j), other.between(i, j)) < 1e-6);
      }
      CHECK((s * one.between(i, i)).real() > 0.0);
      // Two coils driven together in any ratio cannot draw power from the coin: the real part is positive definite.
      for (std::size_t j = 0; j < i; ++j) {
        const bool same = coils[i].side == coils[j].side;
        if (same)
          CHECK((s * one.between(i, i)).real() * (s * one.between(j, j)).real() >
                std::pow((s * one.between(i, j)).real(), 2));
      }
    }
  }
}

TEST_CASE("Layers that are missing or of the metal beneath change nothing", "[disc][slow]") {
  const auto coils = four_coils(11e-3);
  Disc bare = raised_coin(), zero = raised_coin(), same = raised_coin();
  bare.layers.clear();
  for (auto& layer : zero.layers) layer = DiscLayer::wrapped(0.0, 0.0, layer.metal);
  for (auto& layer : same.layers) layer.metal = same.core;
  const Complex s = harmonic(6e4);
  const auto one = solve_disc(bare, coils, s, {DiscResolution::fine, false, false});
  const auto two = solve_disc(zero, coils, s, {DiscResolution::fine, false, false});
  const auto three = solve_disc(same, coils, s, {DiscResolution::fine, false, false});
  for (std::size_t i = 0; i < 16; ++i) {
    // The missing metals still choose the mesh, the buried ones cut it: agreement to the fine resolution's 1e-4.
    CHECK(relative(two.mutual[i], one.mutual[i]) < 1e-4);
    CHECK(relative(three.mutual[i], one.mutual[i]) < 1e-4);
  }
}

TEST_CASE("A magnetic core of very small skin depth is solved as well as any other", "[disc][slow]") {
  // Skin depths of 3 to 12 um in a radius of 11 mm, at the places of the sharpest corners: bare, plated, with a rim.
  Disc bare{22e-3, 1.7e-3, 0.0, 0.0, 0.0, {6.7e6, 150}, {}};
  Disc soft = bare;
  soft.core.permeability = 900;
  Disc plated = soft;
  plated.layers = {DiscLayer::wrapped(6e-6, 9e-6, {13e6, 60})};
  Disc raised = raised_coin();
  raised.core.permeability = 600;
  const auto coils = four_coils(11e-3);
  struct Case {
    Disc coin;
    Complex s;
  };
  for (const auto& [coin, s] :
       {Case{bare, harmonic(3e6)}, Case{soft, harmonic(1e6)}, Case{soft, harmonic(5e6)}, Case{plated, harmonic(2e6)},
        Case{raised, harmonic(3e6)}, Case{raised, Complex(2e7, 1e7)}}) {
    const auto found = solve_disc(coin, coils, s, {.error = false});
    const auto finer = solve_on_mesh(coin, coils, s, {8, 0.8, 0.7, 0.0005, 0.0001, 300.0, 0.4}, false);
    REQUIRE(found.status == DiscStatus::solved);
    double largest = 0.0;
    for (std::size_t i = 0; i < 16; ++i) largest = std::max(largest, relative(found.mutual[i], finer.mutual[i]));
    INFO(coin.core.permeability << " at " << s << ": " << largest);
    CHECK(largest < 1e-3);
  }
}

TEST_CASE("A finer mesh is a better one", "[disc][slow]") {
  const auto coils = four_coils(11e-3);
  const Complex s = harmonic(6e4);
  const auto solve = [&](std::size_t order, double growth, double edge, double spacing) {
    return solve_on_mesh(raised_coin(), coils, s, {order, growth, 0.7, edge, 0.0003, 200.0, spacing}, false);
  };
  const auto best = solve(8, 0.8, 0.002, 0.4);
  const auto error = [&](const DiscSolution& solution) {
    double largest = 0.0;
    for (std::size_t i = 0; i < 16; ++i) largest = std::max(largest, relative(solution.mutual[i], best.mutual[i]));
    return largest;
  };
  // Orders 2, 4, 6 on one mesh: each step gains at least a factor of four.
  const double two = error(solve(2, 1.2, 0.004, 0.8)), four = error(solve(4, 1.2, 0.004, 0.8)),
               six = error(solve(6, 1.2, 0.004, 0.8));
  INFO(two << " " << four << " " << six);
  CHECK(four < 0.25 * two);
  CHECK(six < 0.5 * four);
  CHECK(six < 1e-4);
  // The far wall: the error falls as the third power of its distance.
  const auto wall = [&](double at) {
    return solve_on_mesh(raised_coin(), coils, s, {6, 1.2, 0.7, 0.004, 0.0003, at, 0.8}, false);
  };
  const auto far = wall(400.0);
  const double near = relative(wall(5.0).between(1, 1), far.between(1, 1)),
               middle = relative(wall(20.0).between(1, 1), far.between(1, 1));
  INFO(near << " " << middle);
  CHECK(middle < near / 30.0);
}
