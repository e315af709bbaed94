// What must stay, whichever steps a route has and in whichever order.
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <utility>
#include <variant>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/route/form.hpp"
#include "tests/support/inputs.hpp"

using namespace mintspread;
using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;
using test::Inputs;

namespace {

constexpr double um = 1e-6, mm = 1e-3, rounding = 1e-12;

/// A route of steps of every kind drawn at random, every input another in each lane.
class RandomRoute {
 public:
  explicit RandomRoute(std::uint32_t seed) : random_(seed) {
    auto blank = in.blank(in.steel(), 1.45 * mm, 21.5 * mm);
    blank.metal.composition = {{"Fe", 1.0, 0}};
    route.steps.push_back(blank);
    if (chance(0.4)) remove("pickle");
    const int baths = 1 + static_cast<int>(random_() % 4);
    for (int i = 0; i < baths; ++i) {
      plate(i);
      if (chance(0.3)) anneal();
      if (chance(0.3)) remove("burnish");
    }
    if (chance(0.7)) anneal();
    if (chance(0.7)) route.steps.push_back(in.strike(22 * mm, 1.75 * mm, 0.9 * mm, 0.1 * mm, 0.08 * mm));
    for (std::size_t i = 0; i < in.count(); ++i)
      for (double& value : in.lanes_of(static_cast<InputId>(i))) value *= between(0.997, 1.003);
  }

  CoinBlock made(std::size_t steps) const {
    const route::Route part{{route.steps.begin(), route.steps.begin() + static_cast<std::ptrdiff_t>(steps)}};
    CoinBlock block(route::construction_of(part), Inputs::lanes);
    route::form(part, in.columns(), block);
    return block;
  }
  bool struck() const { return std::holds_alternative<route::Strike>(route.steps.back()); }

  Inputs in;
  route::Route route;

 private:
  double between(double from, double to) { return std::uniform_real_distribution<>(from, to)(random_); }
  bool chance(double of) { return between(0.0, 1.0) < of; }

  void plate(int number) {
    // Nickel and copper by turns, some of them twice, so that boundaries blur and stay.
    const bool copper = number > 0 && chance(0.6);
    const double thickness = (copper ? between(10.0, 30.0) : between(5.0, 9.0)) * um;
    auto bath =
        in.bath("bath " + std::to_string(number), copper ? in.copper() : in.nickel(), thickness, between(1.0, 3.0));
    bath.metal.composition = {{copper ? "Cu" : "Ni", 1.0, 2}};
    bath.mean_to_centre = in(between(1.0, 1.2));
    const double density = copper ? 8930.0 : 8900.0, surface = 9.4e-4;  // m2, with what a thicker rim takes
    bath.kind = std::array{route::Amount::thickness, route::Amount::areal_mass, route::Amount::mass,
                           route::Amount::mass_fraction, route::Amount::charge}[random_() % 5];
    if (bath.kind == route::Amount::areal_mass) bath.amount = in(thickness * density);
    if (bath.kind == route::Amount::mass) bath.amount = in(thickness * density * surface);
    if (bath.kind == route::Amount::mass_fraction) bath.amount = in(thickness * density * surface / 5e-3);
    if (bath.kind == route::Amount::charge) {
      const double charge_for_mass = materials::charge_for_mass(bath.metal.composition).value();
      const double charge = thickness * density * 34.0 * charge_for_mass;
      bath.electrolysis =
          route::Electrolysis{in(charge / 3600.0 / 0.95), in(3600.0), in(0.95), in(34.0), 1.0, charge_for_mass};
    } else if (bath.kind == route::Amount::thickness && chance(0.4)) {
      bath.place = chance(0.5) ? route::Place::face_mean : route::Place::rim;
    }
    removable_ = bath.kind != route::Amount::mass_fraction;
    route.steps.push_back(bath);
  }
  void anneal() {
    route::Anneal anneal{"", in(celsius_zero + between(650.0, 780.0)), in(60.0 * between(2.0, 10.0)), {}};
    anneal.diffusion = true;
    anneal.sealed_under = {"bath 0"};
    anneal.changes = {{"blank", in(1.02), in(1.3)}};
    route.steps.push_back(anneal);
  }
  void remove(const char* name) {
    if (removable_) route.steps.push_back(route::Removal{name, in(between(0.1, 1.0) * um), in(between(1.0, 2.0))});
  }

  std::mt19937 random_;
  bool removable_ = true;
};

double outer_volume(const CoinBlock& block, std::size_t lane) {
  const double outer = block.piece(Piece::diameter)[lane] / 2.0, inner = outer - block.piece(Piece::rim_width)[lane];
  return pi * inner * inner * block.piece(Piece::field_thickness)[lane] +
         pi * (outer * outer - inner * inner) * block.piece(Piece::thickness)[lane];
}

}  // namespace

TEST_CASE("volume and mass stay through every route", "[route]") {
  std::size_t sound = 0, blurred = 0, struck = 0;
  for (std::uint32_t seed = 0; seed < 150; ++seed) {
    const RandomRoute drawn(seed);
    const auto block = drawn.made(drawn.route.steps.size());
    const auto columns = drawn.in.columns();
    blurred += block.construction().joined.empty() ? 0u : 1u;
    struck += drawn.struck() ? 1u : 0u;
    for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
      INFO(seed << " " << lane);
      if (std::isnan(block.piece(Piece::diameter)[lane])) continue;
      ++sound;
      // The piece's shape holds what its metals are, and the layers fill it.
      double volume = 0.0, mass = 0.0, through = 0.0;
      for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
        volume += block.of(metal, Of::volume)[lane];
        mass += block.of(metal, Of::volume)[lane] * block.of(metal, Of::density)[lane];
      }
      for (const std::size_t metal : block.construction().section) through += block.of(metal, Of::face_thickness)[lane];
      // A layer's face mean is not its centre, where the section is: unstruck, the piece is higher than its middle.
      if (drawn.struck()) CHECK(outer_volume(block, lane) == Approx(volume).epsilon(rounding));
      CHECK(block.piece(Piece::volume)[lane] == Approx(volume).epsilon(rounding));
      CHECK(block.piece(Piece::mass)[lane] == Approx(mass).epsilon(rounding));
      CHECK(block.piece(Piece::field_thickness)[lane] == Approx(through).epsilon(rounding));
    }
    // Step by step: what each one adds to the piece, takes from it or leaves alone.
    bool of_finished = false;
    for (std::size_t steps = 1; steps < drawn.route.steps.size(); ++steps) {
      const auto before = drawn.made(steps), after = drawn.made(steps + 1);
      const route::Step& step = drawn.route.steps[steps];
      const auto* bath = std::get_if<route::Bath>(&step);
      const auto* removal = std::get_if<route::Removal>(&step);
      of_finished = of_finished || (bath && bath->kind == route::Amount::mass_fraction);
      std::size_t layers = 0;
      for (std::size_t i = 0; i <= steps; ++i) layers += std::holds_alternative<route::Bath>(drawn.route.steps[i]);
      for (std::size_t lane = 0; lane < Inputs::lanes; ++lane) {
        INFO(seed << ", step " << steps << ", " << lane);
        if (std::isnan(after.piece(Piece::diameter)[lane]) || std::isnan(before.piece(Piece::diameter)[lane])) continue;
        const auto of = [&](InputId id) { return columns[index(id)][lane]; };
        const auto cylinder = [&](const CoinBlock& piece) {
          const double d = piece.piece(Piece::diameter)[lane];
          return pi / 4.0 * d * d * piece.piece(Piece::thickness)[lane];
        };
        const double was = before.piece(Piece::volume)[lane], is = after.piece(Piece::volume)[lane];
        const double layer = after.of(layers, Of::volume)[lane];
        if (bath) {
          CHECK(cylinder(after) == Approx(is).epsilon(rounding));
          if (!of_finished) CHECK(is - was == Approx(layer).epsilon(1e-9));  // a small difference of large volumes
          const double grams = layer * after.of(layers, Of::density)[lane];
          if (bath->kind == route::Amount::mass)
            CHECK(grams == Approx(of(bath->amount) * of(bath->piece_to_piece)).epsilon(rounding));
          if (bath->kind == route::Amount::mass_fraction)
            CHECK(
                grams ==
                Approx(of(bath->amount) * of(bath->piece_to_piece) * after.piece(Piece::mass)[lane]).epsilon(rounding));
        } else if (removal) {
          // Off both faces of the piece as it was, and off the rim that is left of it.
          const double d = before.piece(Piece::diameter)[lane], t = before.piece(Piece::thickness)[lane];
          const double face = of(removal->thickness), rim = face * of(removal->rim_to_face);
          const double left = pi / 4.0 * (d - 2.0 * rim) * (d - 2.0 * rim) * (t - 2.0 * face);
          if (!of_finished) CHECK(is == Approx(left).epsilon(rounding));
        } else {
          // An anneal and the strike move metal, and neither add nor take it.
          CHECK(is == Approx(was).epsilon(rounding));
          CHECK(after.piece(Piece::mass)[lane] == Approx(before.piece(Piece::mass)[lane]).epsilon(rounding));
          for (std::size_t metal = 0; metal <= layers; ++metal)
            CHECK(after.of(metal, Of::volume)[lane] == Approx(before.of(metal, Of::volume)[lane]).epsilon(rounding));
        }
      }
    }
  }
  CHECK(sound > 1500);
  CHECK(blurred > 30);
  CHECK(struck > 60);
}
