#include "engine/signature/disc_state.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <vector>

#include "engine/base/constants.hpp"

// A coin of a block, in its slot, as the planar model and the finite disc see it.

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using Of = coin::CoinBlock::Of;
using Piece = coin::CoinBlock::Piece;
using Complex = std::complex<double>;

constexpr double width = 2.6e-3, play = 0.05e-3, warm = reference_temperature + 10.0;
const Coil coil{2e-3, 5e-3, 2e-3, 200};
const std::vector<MountedCoil> coils{{"face", "", Side::below, coil, InputId{}},
                                     {"far", "", Side::above, coil, InputId{}}};
const std::vector<double> recess{0.3e-3, 0.4e-3};

/// An invented coin, `metals` beside the steel core, plated in `section`.
coin::CoinBlock invented(std::vector<std::size_t> section, double diameter) {
  coin::CoinBlock block({{"blank", "copper", "nickel"}, std::move(section), 0}, 8);
  const auto fill = [](std::span<double> column, double value) { std::fill(column.begin(), column.end(), value); };
  const auto metal = [&](std::size_t at, double face, double rim, double conductivity, double permeability) {
    fill(block.of(at, Of::face_thickness), face);
    fill(block.of(at, Of::rim_thickness), rim);
    fill(block.of(at, Of::conductivity), conductivity);
    fill(block.of(at, Of::permeability), permeability);
    fill(block.of(at, Of::temperature_coefficient), 4e-3);
  };
  double platings = 0.0;
  for (const std::size_t at : block.construction().section) platings += at == 0 ? 0.0 : at == 1 ? 20e-6 : 8e-6;
  metal(0, 1.5e-3 - platings, 0.0, 6.8e6, 120);
  metal(1, 20e-6, 45e-6, 55e6, 1);
  metal(2, 8e-6, 12e-6, 12e6, 60);
  fill(block.piece(Piece::diameter), diameter);
  fill(block.piece(Piece::field_thickness), 1.5e-3);
  fill(block.piece(Piece::rim_width), 0.9e-3);
  fill(block.piece(Piece::rim_height_up), 0.13e-3);
  fill(block.piece(Piece::rim_height_down), 0.11e-3);
  fill(block.piece(Piece::thickness), 1.74e-3);
  return block;
}

struct SlotOfEight {
  std::vector<double> widths = std::vector<double>(8, width), plays = std::vector<double>(8, play),
                      temperatures = std::vector<double>(8, warm);
  SlotColumns columns() const { return {widths, plays, temperatures}; }
};

Sensor sensor_with(Rest rest) {
  Sensor sensor;
  sensor.slot.rest = rest;
  sensor.coils = coils;
  return sensor;
}

/// One lane of a block, as its state tells it.
std::vector<double> state_of(const DiscState& state, const coin::CoinBlock& coins, std::size_t lane, bool reversed) {
  const SlotOfEight slot;
  Columns out(state.count(), 8), recesses(2, 8);
  std::vector<std::span<const double>> spans;
  for (std::size_t i = 0; i < 2; ++i) {
    std::ranges::fill(recesses[i], recess[i]);
    spans.push_back(recesses[i]);
  }
  state.write(coins, slot.columns(), std::vector<std::uint8_t>(8, reversed ? 1 : 0), spans, out);
  std::vector<double> one;
  for (std::size_t column = 0; column < state.count(); ++column) one.push_back(out[column][lane]);
  return one;
}

}  // namespace

TEST_CASE("A wide coin reads alike on its field by the planar model and the disc", "[disc][slow]") {
  // 0.4 m wide, so that the rim is out of reach; nickel over copper above, copper alone below, so that sides tell.
  const auto coins = invented({2, 1, 0, 1}, 0.4);
  const SlotOfEight slot;
  for (const bool reversed : {false, true}) {
    const DiscState lying(coins.construction(), sensor_with(Rest::below), reversed ? SideUp::reverse : SideUp::obverse);
    const auto state = state_of(lying, coins, 3, false);
    const auto placed = lying.place(state);
    const Complex s(0.0, 2.0 * pi * 60e3);
    const auto disc = solve_disc(placed.disc, placed.coils, s, {DiscResolution::standard, false, false});
    REQUIRE(disc.status == DiscStatus::solved);
    PlacedStack stack(coins.construction(), 8);
    const std::vector<std::uint8_t> turned(8, reversed ? 1 : 0);
    stack.place(coins, slot.columns(), Rest::below, turned);
    for (std::size_t i = 0; i < 2; ++i) {
      std::vector<double> gap(8, recess[i]), distance(8);
      stack.distance(coils[i].side, gap, coils[i].side, gap, distance);
      const PlanarBlock block{stack.seen_from(coils[i].side), distance};
      const auto flat = lying.flat(state, i, i);
      CHECK(flat.distance == Approx(distance[3]));
      for (std::size_t layer = 0; layer < flat.thickness.size(); ++layer) {
        CHECK(flat.thickness[layer] == Approx(block.layers[layer].thickness[3]));
        CHECK(flat.conductivity[layer] == Approx(block.layers[layer].conductivity[3]));
        CHECK(flat.permeability[layer] == block.layers[layer].permeability[3]);
      }
      const std::vector<Complex> at{s};
      Columns out(2, 8);
      mutual_inductance(make_rule(coil, coil, Coupling::reflected, at, block), at, block, out);
      const Complex planar(out[0][3], out[1][3]);
      INFO(i << (reversed ? " reversed" : "") << ": " << disc.between(i, i) << " against " << planar);
      CHECK(std::abs(disc.between(i, i) - planar) < 1e-3 * std::abs(planar));
    }
  }
}

TEST_CASE("Platings about the whole coin are one layer, with the rim's own thickness; sides are turned", "[disc]") {
  const auto coins = invented({2, 1, 0, 1, 2}, 22e-3);
  const DiscState lying(coins.construction(), sensor_with(Rest::below), SideUp::obverse);
  // A section that reads the same from both faces is turned by the lane.
  const auto placed = lying.place(state_of(lying, coins, 0, true));
  REQUIRE(placed.disc.layers.size() == 2);
  CHECK(placed.disc.layers[0].face_up == 8e-6);
  CHECK(placed.disc.layers[0].face_down == 8e-6);
  CHECK(placed.disc.layers[0].rim == 12e-6);
  CHECK(placed.disc.layers[1].rim == 45e-6);
  CHECK(placed.disc.layers[1].metal.conductivity == Approx(55e6 / 1.04));
  CHECK(placed.disc.rim_height_up == 0.11e-3);
  // The rim rests on the lower wall; the upper coil looks over what the slot leaves.
  CHECK(placed.coils[0].gap == Approx(play + 0.3e-3));
  CHECK(placed.coils[1].gap == Approx(width - play - 1.74e-3 + 0.4e-3));
  const auto other = invented({2, 1, 0, 1}, 22e-3);
  const DiscState uneven(other.construction(), sensor_with(Rest::above), SideUp::obverse);
  const auto one_sided = uneven.place(state_of(uneven, other, 0, false));
  REQUIRE(one_sided.disc.layers.size() == 2);
  CHECK(one_sided.disc.layers[0].face_up == 8e-6);
  CHECK(one_sided.disc.layers[0].face_down == 0.0);
  CHECK(one_sided.disc.layers[1].face_down == 20e-6);
  CHECK(one_sided.coils[1].gap == Approx(play + 0.4e-3));
}

TEST_CASE("Slopes by the state are what the disc reads at a moved state", "[disc][slow]") {
  const auto coins = invented({2, 1, 0, 1, 2}, 22e-3);
  const DiscState lying(coins.construction(), sensor_with(Rest::below), SideUp::obverse);
  const auto state = state_of(lying, coins, 0, false);
  const Complex s(0.0, 2.0 * pi * 60e3);
  const auto solved = [&](const std::vector<double>& at, bool gradient) {
    const auto placed = lying.place(at);
    return solve_disc(placed.disc, placed.coils, s, {DiscResolution::standard, false, gradient});
  };
  const auto here = solved(state, true);
  const auto slopes = lying.slopes(here.gradients[0]);
  double largest = 0.0;
  for (std::size_t column = 0; column < state.size(); ++column)
    largest = std::max(largest, std::abs(slopes[column] * state[column]));
  for (std::size_t column = 0; column < state.size(); ++column) {
    // By a hundredth of itself to either side: the third order is a ten thousandth of the slope.
    auto up = state, down = state;
    const double step = 0.01 * state[column];
    up[column] += step;
    down[column] -= step;
    if (down[column] < lying.least(column)) continue;
    const Complex found = (solved(up, false).mutual[0] - solved(down, false).mutual[0]) / (2.0 * step);
    INFO(lying.name(column) << ": " << slopes[column] << " against " << found);
    CHECK(std::abs(found - slopes[column]) * state[column] < 3e-3 * largest);
  }
}
