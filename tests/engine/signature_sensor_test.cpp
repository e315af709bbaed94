#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <cstring>

#include "engine/signature/sensor_model.hpp"
#include "tests/support/bench.hpp"

using namespace mintspread;
using namespace mintspread::signature;
using mintspread::test::Bench;
using mintspread::test::BenchCoin;
using mintspread::test::Layer;
using mintspread::test::Stack;
using Complex = std::complex<double>;
using Piece = coin::CoinBlock::Piece;
using Of = coin::CoinBlock::Of;

namespace {

constexpr Coil coil_p{5e-3, 8e-3, 2e-3, 100};
constexpr Coil small{2e-3, 5e-3, 2e-3, 200};

const std::vector<Layer> nickel_steel{{25e-6, 14e6, 80}, {1.70e-3, 5.8e6, 150}, {25e-6, 14e6, 80}};
const std::vector<Layer> two_faced{{30e-6, 58e6, 1}, {1.5e-3, 5.8e6, 150}, {10e-6, 14e6, 80}};

/// Reactance of coil P at 60 kHz over layers from its own face on, at a distance worked out by hand.
double reactance(const std::vector<Layer>& layers, double lift_off, double frequency = 60e3) {
  const Stack stack(layers, 2 * lift_off);
  const Complex s(0, 2 * pi * frequency);
  Columns out(2, 8);
  mutual_inductance(make_rule(coil_p, coil_p, Coupling::reflected, std::span(&s, 1), stack.block(), 1e-9),
                    std::span(&s, 1), stack.block(), out);
  return (s * Complex(out[0][0], out[1][0])).imag();
}

std::string refusal(const Bench& bench, const BenchCoin& coin) {
  try {
    bench.model(coin);
  } catch (const InvalidSpecification& invalid) {
    std::string all;
    for (const Problem& problem : invalid.problems())
      all += problem.path + ": " + problem.what + " | " + problem.remedy + "\n";
    return all;
  }
  return "accepted";
}

}  // namespace

TEST_CASE("a coil over plated steel reads its published impedance through the slot") {
  // Coil P, 1 mm above Ni 25 um / steel 1.70 mm / Ni 25 um: dZ(60 kHz) = 11.25201068 - 0.3457094176 j ohm, L0 =
  // 1.522026643e-4 H, computed for this project by three independent programs. 1 mm = 0.2 recess + 0.7 to the rim +
  // 0.1.
  Bench bench(coil_p, coil_p);
  const BenchCoin coin{nickel_steel, 0.1e-3, 0.15e-3};
  bench.set(Bench::upper_recess, 0.2e-3);
  bench.set(Bench::play, 0.3e-3);
  bench.set(Bench::width, 0.3e-3 + coin.thickness() + 0.7e-3);
  bench.add("r", Value::resistance);
  bench.add("x", Value::reactance);
  bench.add("rn", Value::normalised_resistance);
  bench.add("xn", Value::normalised_reactance);
  bench.add("z", Value::magnitude);
  bench.add("p", Value::phase).unit = {"deg", pi / 180, 0};
  const SensorModel model = bench.model(coin);
  const Complex expected(1.125201068e+1, -3.457094176e-1);
  const double air = 2 * pi * 60e3 * 1.522026643e-4, close = 1e-6 * std::abs(expected);
  CHECK(model.nominal()[0] == Approx(expected.real()).margin(close));
  CHECK(model.nominal()[1] == Approx(expected.imag()).margin(close));
  CHECK(model.nominal()[2] == Approx(expected.real() / air).margin(close / air));
  CHECK(model.nominal()[3] == Approx(expected.imag() / air).margin(close / air));
  CHECK(model.nominal()[4] == Approx(std::abs(expected)).margin(close));
  CHECK(model.nominal()[5] == Approx(std::arg(expected) * 180 / pi).margin(1e-4));
  CHECK(model.planar_error() < 1e-6);
  REQUIRE(model.nominal_impedances().size() == 1);
  const NominalImpedance& row = model.nominal_impedances()[0];
  CHECK(row.frequency == 60e3);
  CHECK(row.resistance == Approx(expected.real()).margin(close));
  CHECK(row.normalised_reactance == Approx(expected.imag() / air).margin(close / air));
  CHECK_FALSE(row.through);
}

TEST_CASE("the gaps follow from slot, play, recess and the coin's own rim") {
  const BenchCoin coin{two_faced, 0.12e-3, 0.08e-3};
  const std::vector<Layer> from_below = coin.turned().layers;
  const double free = 3e-3 - 0.2e-3 - coin.thickness();
  Bench bench(coil_p, coil_p);
  bench.set(Bench::play, 0.2e-3);
  bench.set(Bench::upper_recess, 0.3e-3);
  bench.set(Bench::lower_recess, 0.4e-3);
  bench.add("above", Value::reactance);
  Channel& below = bench.add("below", Value::reactance);
  below.drive = below.receive = Bench::lower;

  bench.sensor.slot.rest = Rest::below;
  CHECK(bench.nominal(coin, 0) == Approx(reactance(two_faced, 0.3e-3 + free + 0.12e-3)).epsilon(1e-6));
  CHECK(bench.nominal(coin, 1) == Approx(reactance(from_below, 0.4e-3 + 0.2e-3 + 0.08e-3)).epsilon(1e-6));
  bench.sensor.slot.rest = Rest::above;
  CHECK(bench.nominal(coin, 0) == Approx(reactance(two_faced, 0.3e-3 + 0.2e-3 + 0.12e-3)).epsilon(1e-6));
  CHECK(bench.nominal(coin, 1) == Approx(reactance(from_below, 0.4e-3 + free + 0.08e-3)).epsilon(1e-6));
}

TEST_CASE("through coils do not feel where in the slot the coin lies, same-side coils do") {
  const BenchCoin coin{{{1.95e-3, 2.9e6, 1}}, 0.1e-3, 0.1e-3};
  Bench bench(coil_p, coil_p);
  bench.set(Bench::upper_recess, 0.5e-3);
  bench.set(Bench::lower_recess, 0.5e-3);
  bench.add("through", Value::magnitude).receive = Bench::lower;
  bench.add("face", Value::magnitude);
  const SensorModel model = bench.model(coin);
  for (std::size_t lane = 0; lane < 8; ++lane) bench.inputs[index(Bench::play)][lane] = 0.05e-3 * double(lane);
  Readings out(2, 8);
  SensorModel::Workspace workspace = model.workspace(8);
  model.read(coin.block(), bench.inputs, {}, Conditions::drawn, workspace, out);
  for (std::size_t lane = 1; lane < 8; ++lane) {
    CHECK(out.values[0][lane] == Approx(out.values[0][0]).epsilon(1e-12));
    // The coin rests below: more play brings it nearer to the coil above.
    CHECK(out.values[1][lane] > 1.01 * out.values[1][lane - 1]);
  }
  // Under nominal conditions drawn play is no matter.
  model.read(coin.block(), bench.inputs, {}, Conditions::nominal, workspace, out);
  for (std::size_t lane = 0; lane < 8; ++lane) CHECK(out.values[1][lane] == model.nominal()[1]);
}

TEST_CASE("through-transmission at 1 kHz is the total mutual impedance computed independently") {
  // Coil P above and below CuNi 1.95 mm, 1 mm from either face: M = 3.535903802e-5 - 4.522128797e-6 j H at 1 kHz,
  // computed for this project by three independent programs.
  const BenchCoin coin{{{1.95e-3, 2.9e6, 1}}};
  Bench bench(coil_p, coil_p);
  bench.set(Bench::width, 2.95e-3);
  bench.set(Bench::lower_recess, 1e-3);
  bench.add("r", Value::resistance, 1e3).receive = Bench::lower;
  bench.add("x", Value::reactance, 1e3).receive = Bench::lower;
  const SensorModel model = bench.model(coin);
  const double w = 2 * pi * 1e3, close = 1e-6 * w * 3.56e-5;
  CHECK(model.nominal()[0] == Approx(w * 4.522128797e-6).margin(close));
  CHECK(model.nominal()[1] == Approx(w * 3.535903802e-5).margin(close));
  CHECK(model.nominal_impedances()[0].through);
  CHECK(std::isnan(model.nominal_impedances()[0].normalised_reactance));
}

TEST_CASE("a reversed coin reads exactly as the coin turned over") {
  const BenchCoin coin{two_faced, 0.12e-3, 0.08e-3};
  Bench bench(coil_p, coil_p);
  bench.set(Bench::play, 0.1e-3);
  bench.add("above", Value::reactance);
  Channel& below = bench.add("below", Value::resistance);
  below.drive = below.receive = Bench::lower;
  bench.add("through", Value::magnitude, 5e3).receive = Bench::lower;
  // One model for all, so that the rules are the same.
  bench.sensor.slot.side_up = SideUp::either;
  const SensorModel model = bench.model(coin);
  SensorModel::Workspace workspace = model.workspace(8);
  Readings turned(3, 8), obverse(3, 8), mixed(3, 8), reverse(3, 8);
  const std::vector<double> low(8, 0.49), high(8, 0.5), both{0.1, 0.9, 0.4, 0.6, 0.499, 0.5, 0.0, 1.0};
  model.read(coin.block(), bench.inputs, low, Conditions::drawn, workspace, obverse);
  model.read(coin.block(), bench.inputs, high, Conditions::drawn, workspace, reverse);
  model.read(coin.block(), bench.inputs, both, Conditions::drawn, workspace, mixed);
  coin::CoinBlock over = coin.turned().block();
  // The layers of the turned coin are summed in another order.
  std::ranges::copy(coin.block().piece(Piece::thickness), over.piece(Piece::thickness).begin());
  model.read(over, bench.inputs, low, Conditions::drawn, workspace, turned);
  for (std::size_t c = 0; c < 3; ++c)
    for (std::size_t lane = 0; lane < 8; ++lane) {
      // Through the coin the gaps on either side are added in another order.
      CHECK(reverse.values[c][lane] == Approx(turned.values[c][lane]).epsilon(c < 2 ? 0 : 1e-12).margin(0));
      // Another block, so other shortcuts of the planar solution, within its tolerance.
      CHECK(mixed.values[c][lane] ==
            Approx((lane % 2 == 0 ? obverse : reverse).values[c][lane]).epsilon(1e-6).margin(0));
      if (c < 2) CHECK(obverse.values[c][lane] != reverse.values[c][lane]);
    }
  // A slot that always takes the reverse up has the turned coin as its nominal one.
  bench.sensor.slot.side_up = SideUp::reverse;
  const double nominal = bench.nominal(coin);
  bench.sensor.slot.side_up = SideUp::obverse;
  CHECK(nominal == Approx(bench.nominal(coin.turned())).epsilon(1e-12));
}

TEST_CASE("a symmetrical coin does not notice its side") {
  BenchCoin coin{nickel_steel, 0.1e-3, 0.1e-3};
  Bench bench(coil_p, coil_p);
  bench.sensor.slot.side_up = SideUp::either;
  bench.add("above", Value::reactance);
  bench.add("through", Value::magnitude, 5e3).receive = Bench::lower;
  const SensorModel model = bench.model(coin);
  SensorModel::Workspace workspace = model.workspace(8);
  Readings out(2, 8);
  const std::vector<double> side{0.1, 0.9, 0.1, 0.9, 0.1, 0.9, 0.1, 0.9};
  model.read(coin.block(), bench.inputs, side, Conditions::drawn, workspace, out);
  for (std::size_t c = 0; c < 2; ++c)
    for (std::size_t lane = 0; lane < 8; ++lane) CHECK(out.values[c][lane] == out.values[c][0]);
}

TEST_CASE("swapping drive and receive coil changes nothing") {
  const BenchCoin coin{two_faced, 0.12e-3, 0.08e-3};
  Bench bench(coil_p, small);
  for (const double frequency : {2e3, 60e3}) {
    bench.add("there " + std::to_string(frequency), Value::reactance, frequency).receive = Bench::lower;
    Channel& back = bench.add("back " + std::to_string(frequency), Value::reactance, frequency);
    back.drive = Bench::lower;
  }
  bench.sensor.coils[Bench::lower].side = Side::above;  // a pair on one side
  const SensorModel pair = bench.model(coin);
  CHECK(pair.nominal()[0] == Approx(pair.nominal()[1]).epsilon(2e-6));
  CHECK(pair.nominal()[2] == Approx(pair.nominal()[3]).epsilon(2e-6));
  bench.sensor.coils[Bench::lower].side = Side::below;
  const SensorModel through = bench.model(coin);
  CHECK(through.nominal()[0] == Approx(through.nominal()[1]).epsilon(2e-6));
}

TEST_CASE("a warm coin reads as one of lower conductivity") {
  // 1 K on copper: 0.39 % (IEC 60028, from memory).
  BenchCoin coin{{{2e-3, 58e6, 1}}};
  coin.temperature_coefficient = 3.93e-3;
  Bench bench(coil_p, coil_p);
  bench.add("conductivity", Value::apparent_conductivity, 200e3).unit = {"% IACS", 0.58e6, 0};
  const SensorModel model = bench.model(coin);
  Readings out(1, 8);
  SensorModel::Workspace workspace = model.workspace(8);
  bench.inputs[index(Bench::temperature)][3] += 1;
  bench.inputs[index(Bench::temperature)][4] += 10;
  model.read(coin.block(), bench.inputs, {}, Conditions::drawn, workspace, out);
  // The metal is thick against its skin depth of 0.15 mm, so what appears is what is there.
  CHECK(out.values[0][0] == Approx(100).epsilon(1e-4));
  CHECK(1 - out.values[0][3] / out.values[0][0] == Approx(3.93e-3 / 1.00393).epsilon(1e-3));
  CHECK(out.values[0][4] == Approx(100 / 1.0393).epsilon(1e-4));
}

TEST_CASE("decay channels read volts at the drive current, in the unit asked for") {
  // Coil r 2-5 mm, h 2 mm, N 200, 0.5 mm above Ni 25 um / steel 1.65 mm / Ni 25 um, 1 A switched off: -12.2396641044246
  // V at 2 us, -0.105730622999923 V at 50 us. Computed for this project by adaptive high-precision quadrature.
  const BenchCoin coin{{{25e-6, 12e6, 100}, {1.65e-3, 7e6, 150}, {25e-6, 12e6, 100}}};
  Bench bench(small, small);
  bench.sensor.slot.rest = Rest::above;
  bench.set(Bench::upper_recess, 0.5e-3);
  bench.add_decay("early", 2e-6);
  Channel& late = bench.add_decay("late", 50e-6);
  late.current = 2;
  late.unit = {"mV", 1e-3, 0};
  const SensorModel model = bench.model(coin);
  CHECK(model.nominal()[0] == Approx(-12.2396641044246).epsilon(1e-4));
  CHECK(model.nominal()[1] == Approx(-2 * 105.730622999923).epsilon(1e-4));
  CHECK(model.decay_error() < 1e-4);
  REQUIRE(model.nominal_decays().size() == 2);
  CHECK(model.nominal_decays()[1].voltage == Approx(-2 * 0.105730622999923).epsilon(1e-4));
  CHECK(model.nominal_decays()[1].time == 50e-6);
}

TEST_CASE("a scale passes through both of its reference pieces") {
  Bench bench(coil_p, coil_p);
  bench.set(Bench::play, 0.1e-3);
  bench.set(Bench::upper_recess, 0.2e-3);
  bench.set(Bench::lower_recess, 0.3e-3);
  const std::vector<Layer> brass{{1.8e-3, 16.2e6, 1}}, clad{{0.1e-3, 58e6, 1}, {1.5e-3, 2.9e6, 1}};
  bench.sensor.reference_pieces = {{"brass", "sensor.reference pieces.brass", {{1.8e-3, 16.2e6, 1}}},
                                   {"clad", "sensor.reference pieces.clad", {{0.1e-3, 58e6, 1}, {1.5e-3, 2.9e6, 1}}}};
  for (const Value value : {Value::resistance, Value::reactance, Value::magnitude, Value::phase,
                            Value::apparent_conductivity, Value::rim_thickness})
    bench.add("face " + std::to_string(bench.sensor.channels.size()), value);
  Channel& below = bench.add("below", Value::reactance);
  below.drive = below.receive = Bench::lower;
  bench.add("through", Value::magnitude, 5e3).receive = Bench::lower;
  bench.add_decay("decay", 10e-6, 2e-6);
  for (Channel& channel : bench.sensor.channels) channel.scale = ReferenceScale{0, 1, 200, 700};
  for (const Rest rest : {Rest::below, Rest::above}) {
    bench.sensor.slot.rest = rest;
    const SensorModel of_brass = bench.model({brass}), of_clad = bench.model({clad});
    for (std::size_t c = 0; c < bench.sensor.channels.size(); ++c) {
      INFO(bench.sensor.channels[c].name);
      CHECK(of_brass.nominal()[c] == Approx(200).margin(0.05));
      // Each model tells apparent conductivity at the lift-off of its own nominal coin, and the pieces differ in
      // thickness.
      if (bench.sensor.channels[c].value == Value::apparent_conductivity && rest == Rest::below) continue;
      CHECK(of_clad.nominal()[c] == Approx(700).margin(0.05));
    }
  }
}

TEST_CASE("reference pieces that fix no scale are refused with the reason") {
  Bench bench(coil_p, coil_p);
  bench.sensor.reference_pieces = {{"one", "sensor.reference pieces.one", {{1.8e-3, 16e6, 1}}},
                                   {"two", "sensor.reference pieces.two", {{1.8e-3, 16e6, 1}}},
                                   {"thick", "sensor.reference pieces.thick", {{3.5e-3, 16e6, 1}}},
                                   {"steel", "sensor.reference pieces.steel", {{1.8e-3, 6e6, 150}}}};
  const BenchCoin coin{{{1.8e-3, 5e6, 1}}};
  const auto with = [&](Value value, std::size_t first, std::size_t second, double reading = 700) {
    bench.sensor.channels.clear();
    bench.add("skin", value).scale = ReferenceScale{first, second, 200, reading};
    return refusal(bench, coin);
  };
  CHECK(with(Value::reactance, 0, 1).find("reads the same on `one` and `two`") != std::string::npos);
  CHECK(with(Value::reactance, 0, 2).find("does not fit the slot") != std::string::npos);
  CHECK(with(Value::reactance, 0, 0).find("two different") != std::string::npos);
  CHECK(with(Value::reactance, 0, 3, 200).find("same reading") != std::string::npos);
  CHECK(with(Value::apparent_conductivity, 0, 3).find("`steel` has no value") != std::string::npos);
  CHECK(with(Value::diameter, 0, 3).find("no diameter") != std::string::npos);
  CHECK(with(Value::reactance, 0, 3) == "accepted");
}

TEST_CASE("dimensions come from the piece, in the unit asked for") {
  BenchCoin coin{{{1.7e-3, 5e6, 1}}, 0.1e-3, 0.05e-3};
  coin.diameter = 22e-3;
  coin.mass = 5.5e-3;
  Bench bench(coil_p, coil_p);
  bench.add("gauge", Value::rim_thickness).unit = {"mm", 1e-3, 0};
  bench.add("size", Value::diameter).unit = {"mm", 1e-3, 0};
  bench.add("weight", Value::mass).unit = {"g", 1e-3, 0};
  const SensorModel model = bench.model(coin);
  CHECK(model.nominal()[0] == Approx(1.85).epsilon(1e-14));
  CHECK(model.nominal()[1] == Approx(22).epsilon(1e-14));
  CHECK(model.nominal()[2] == Approx(5.5).epsilon(1e-14));
}

TEST_CASE("noise and steps belong to the reading, not to the coin") {
  Bench bench(coil_p, coil_p);
  Channel& gauge = bench.add("gauge", Value::rim_thickness);
  gauge.unit = {"mm", 1e-3, 0};
  gauge.noise = Bench::noise;
  gauge.resolution = 0.01e-3;
  bench.add("double", Value::expression).expression = "2 * gauge";
  const BenchCoin coin{{{1.7e-3, 5e6, 1}}};
  const SensorModel model = bench.model(coin);
  const double noise[] = {0, 4e-6, 6e-6, -4e-6, -6e-6, 14e-6, 25e-6, -0.1e-3};
  std::copy_n(noise, 8, bench.inputs[index(Bench::noise)].data());
  Readings out(2, 8);
  SensorModel::Workspace workspace = model.workspace(8);
  model.read(coin.block(), bench.inputs, {}, Conditions::drawn, workspace, out);
  const double expected[] = {1.70, 1.70, 1.71, 1.70, 1.69, 1.71, 1.72, 1.60};
  for (std::size_t lane = 0; lane < 8; ++lane) {
    if (lane != 6) CHECK(out.values[0][lane] == Approx(expected[lane]).epsilon(1e-12));
    // The expression is of what was read.
    CHECK(out.values[1][lane] == 2 * out.values[0][lane]);
  }
  model.read(coin.block(), bench.inputs, {}, Conditions::nominal, workspace, out);
  for (std::size_t lane = 0; lane < 8; ++lane) CHECK(out.values[0][lane] == model.nominal()[0]);
}

TEST_CASE("half a step is rounded to the even step") {
  Bench bench(coil_p, coil_p);
  Channel& count = bench.add("count", Value::rim_thickness);
  count.resolution = 1;
  const BenchCoin coin{{{1.7e-3, 5e6, 1}}};
  const SensorModel model = bench.model(coin);
  bench.set(Bench::width, 10);
  coin::CoinBlock coins = coin.block();
  const double thickness[] = {0.5, 1.5, 2.5, 3.5, 1.49, 2.51, 0.0, 1.0};
  std::copy_n(thickness, 8, coins.piece(Piece::thickness).data());
  Readings out(1, 8);
  SensorModel::Workspace workspace = model.workspace(8);
  model.read(coins, bench.inputs, {}, Conditions::drawn, workspace, out);
  const double expected[] = {0, 2, 2, 4, 1, 3, 0, 1};
  for (std::size_t lane = 0; lane < 8; ++lane) CHECK(out.values[0][lane] == expected[lane]);
}

TEST_CASE("a channel without a value is undefined, a piece that cannot be read is unsolved, others are untouched") {
  Bench bench(coil_p, coil_p);
  bench.add("skin", Value::reactance);
  bench.add("conductivity", Value::apparent_conductivity);
  bench.add("late", Value::expression).expression = "log(skin + 16)";
  bench.add_decay("decay", 10e-6);
  bench.add("gauge", Value::rim_thickness);
  const BenchCoin coin{{{1.7e-3, 5e6, 1}}};
  const SensorModel model = bench.model(coin);
  coin::CoinBlock coins = coin.block();
  const double nan = std::nan("");
  coins.piece(Piece::diameter)[1] = nan;
  coins.piece(Piece::thickness)[2] = 3.1e-3;
  bench.inputs[index(Bench::play)][3] = -1e-6;
  bench.inputs[index(Bench::temperature)][4] = nan;
  coins.of(0, Of::permeability)[5] = 200;   // no apparent conductivity any more
  coins.of(0, Of::conductivity)[6] = 50e6;  // skin below -16 ohm: no logarithm
  Readings out(5, 8);
  SensorModel::Workspace workspace = model.workspace(8);
  model.read(coins, bench.inputs, {}, Conditions::drawn, workspace, out);
  for (std::size_t lane = 0; lane < 8; ++lane) {
    INFO("lane " << lane);
    const bool unsolved = lane >= 1 && lane <= 4;
    CHECK(out.unsolved[lane] == (unsolved ? 1 : 0));
    for (std::size_t c = 0; c < 5; ++c) {
      const bool undefined = unsolved || (lane == 5 && c == 1) || (lane == 6 && c == 2);
      CHECK(std::isnan(out.values[c][lane]) == undefined);
    }
  }
  for (std::size_t c = 0; c < 5; ++c) {
    // Neighbours decide which shortcuts the planar solution takes, within its tolerance.
    CHECK(out.values[c][0] == Approx(model.nominal()[c]).epsilon(1e-6));
    CHECK(out.values[c][7] == out.values[c][0]);
  }
}

TEST_CASE("a block reads the same bits every time, and a piece the same reading in any block") {
  Bench bench(coil_p, small);
  bench.sensor.slot.side_up = SideUp::either;
  bench.add("skin", Value::reactance, 1e6);
  bench.add("core", Value::magnitude, 4e3);
  bench.add("through", Value::magnitude, 4e3).receive = Bench::lower;
  bench.add_decay("decay", 10e-6, 1e-6);
  const BenchCoin coin{two_faced, 0.12e-3, 0.08e-3};
  const SensorModel model = bench.model(coin);
  constexpr std::size_t lanes = 64;
  Bench wide(coil_p, small, lanes);
  coin::CoinBlock coins = coin.block(lanes);
  std::vector<double> side(lanes);
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    const double x = double(lane) / lanes;
    wide.inputs[index(Bench::play)][lane] = 0.2e-3 * x;
    wide.inputs[index(Bench::temperature)][lane] += 10 * x;
    coins.of(0, Of::face_thickness)[lane] = lane % 7 == 0 ? 0 : 60e-6 * x;
    coins.of(1, Of::face_thickness)[lane] = 1.2e-3 + 0.4e-3 * x;
    coins.of(2, Of::permeability)[lane] = 1 + 200 * x;
    side[lane] = lane % 3 == 0 ? 0.3 : 0.7;
  }
  Readings all(4, lanes), again(4, lanes), one(4, 8);
  SensorModel::Workspace workspace = model.workspace(lanes), other = model.workspace(lanes),
                         narrow = model.workspace(8);
  model.read(coins, wide.inputs, side, Conditions::drawn, workspace, all);
  model.read(coin.block(lanes), wide.inputs, side, Conditions::drawn, other, again);
  model.read(coins, wide.inputs, side, Conditions::drawn, other, again);
  for (std::size_t c = 0; c < 4; ++c)
    CHECK(std::memcmp(all.values[c].data(), again.values[c].data(), lanes * sizeof(double)) == 0);
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    // The same piece in another place, among other neighbours.
    coin::CoinBlock moved = coin.block();
    const std::size_t to = (lane + 3) % 8;
    for (const Of of : {Of::face_thickness, Of::permeability})
      for (std::size_t metal = 0; metal < 3; ++metal) moved.of(metal, of)[to] = coins.of(metal, of)[lane];
    std::vector<double> moved_side(8, 0.1);
    moved_side[to] = side[lane];
    for (std::size_t i = 0; i < 5; ++i) bench.inputs[i][to] = wide.inputs[i][lane];
    model.read(moved, bench.inputs, moved_side, Conditions::drawn, narrow, one);
    // The planar solution chooses its shortcuts by block: the tolerance of an impedance, of |dZ|, and of a decay.
    INFO("lane " << lane);
    CHECK(one.values[0][to] == Approx(all.values[0][lane]).epsilon(1e-6));
    CHECK(one.values[1][to] == Approx(all.values[1][lane]).epsilon(1e-6));
    CHECK(one.values[2][to] == Approx(all.values[2][lane]).epsilon(1e-6).margin(1e-12));
    CHECK(one.values[3][to] == Approx(all.values[3][lane]).epsilon(1e-4));
  }
}

TEST_CASE("corners that cannot be made or do not fit do not spoil the preparation") {
  Bench bench(coil_p, coil_p, 16);
  bench.add("skin", Value::reactance);
  bench.add_decay("decay", 10e-6);
  const BenchCoin coin{nickel_steel};
  const SensorModel without = bench.model(coin);
  coin::CoinBlock coins = coin.block(16);
  for (std::size_t lane = 8; lane < 12; ++lane) coins.piece(Piece::diameter)[lane] = std::nan("");
  for (std::size_t lane = 12; lane < 16; ++lane) coins.piece(Piece::thickness)[lane] = 5e-3;
  coins.of(1, Of::conductivity)[8] = std::nan("");
  bench.inputs[index(Bench::play)][3] = -1;
  const SensorModel with(bench.sensor, coins, bench.inputs);
  CHECK(with.planar_error() < 1e-6);
  CHECK(with.decay_error() < 1e-4);
  CHECK(with.nominal()[0] == without.nominal()[0]);
  CHECK(with.nominal()[1] == without.nominal()[1]);
}

TEST_CASE("an apparent conductivity that the nominal coin does not have is refused, naming a frequency that has one") {
  Bench bench(coil_p, coil_p);
  bench.add("skin", Value::apparent_conductivity, 20e3);
  bench.add("core", Value::apparent_conductivity, 1e3);
  const BenchCoin coin{nickel_steel};
  const std::string text = refusal(bench, coin);
  CHECK(text.find("sensor.channels.skin.frequency") != std::string::npos);
  CHECK(text.find("sensor.channels.core.frequency") != std::string::npos);
  const std::size_t at = text.find("one is ");
  REQUIRE(at != std::string::npos);
  bench.sensor.channels.pop_back();
  bench.sensor.channels[0].frequency = std::stod(text.substr(at + 7)) * 1e3;
  CHECK(refusal(bench, coin) == "accepted");
}

TEST_CASE("a coin that does not fit its slot is refused with the figures") {
  Bench bench(coil_p, coil_p);
  bench.set(Bench::width, 1.7e-3);
  bench.add("skin", Value::reactance);
  const std::string text = refusal(bench, {nickel_steel});
  CHECK(text.find("sensor.slot.width") != std::string::npos);
  CHECK(text.find("1.75 mm rim to rim") != std::string::npos);
}

TEST_CASE("everything wrong with a sensor is told at once") {
  Bench bench({5e-3, 4e-3, 0, 100}, {1e-3, 30e-3, 2e-3, 0});
  bench.add("slow", Value::reactance, 100);
  bench.add_decay("early", 0.5e-6);
  Channel& through = bench.add("through", Value::apparent_conductivity);
  through.receive = Bench::lower;
  bench.add("far side", Value::diameter);
  bench.add("far-side", Value::diameter);
  bench.add("ratio", Value::expression).expression = "slov / ratio";
  bench.add("step", Value::diameter).resolution = -1;
  std::string all;
  for (const Problem& problem : check_sensor(bench.sensor))
    all += problem.path + ": " + problem.what + problem.remedy + "\n";
  for (const char* part :
       {"sensor.coils.upper: the coil's outer radius", "upper.length", "lower.outer radius", "lower.turns",
        "slow.frequency", "early.time", "through.value", "far-side: an expression could not tell",
        "Did you mean `slow`", "no channel is called `ratio`", "step.resolution"}) {
    INFO(all);
    CHECK(all.find(part) != std::string::npos);
  }
  CHECK(refusal(bench, {nickel_steel}) != "accepted");
}

TEST_CASE("planar values known to be wrong carry a mark") {
  Bench bench(small, small);
  bench.add("face", Value::reactance);
  bench.add("through", Value::magnitude).receive = Bench::lower;
  bench.add_decay("early", 10e-6);
  bench.add_decay("late", 49e-6, 4e-6);
  bench.add("ratio", Value::expression).expression = "face / through";
  bench.add("size", Value::diameter);
  BenchCoin steel{nickel_steel}, white{{{1.9e-3, 2.9e6, 1}}};
  steel.diameter = white.diameter = 22e-3;
  const SensorModel on_steel = bench.model(steel), on_white = bench.model(white);
  CHECK(on_steel.marks()[0].empty());
  REQUIRE(on_steel.marks()[1].size() == 1);
  CHECK(on_steel.marks()[1][0].find("ferromagnetic") != std::string::npos);
  CHECK(on_white.marks()[1].empty());
  CHECK(on_steel.marks()[2].empty());
  REQUIRE(on_steel.marks()[3].size() == 1);
  CHECK(on_steel.marks()[3][0].find("50 us") != std::string::npos);
  REQUIRE(on_steel.marks()[4].size() == 1);
  CHECK(on_steel.marks()[4][0].find("`through`") != std::string::npos);
  CHECK(on_steel.marks()[5].empty());
  // The same coil on a coin of 16 mm reaches beyond 0.6 of its radius, on one of 11 mm beyond its field.
  white.diameter = 16e-3;
  CHECK(bench.model(white).marks()[0].at(0).find("0.6") != std::string::npos);
  white.diameter = 11e-3;
  CHECK(bench.model(white).marks()[0].at(0).find("covers the rim") != std::string::npos);
}

TEST_CASE("channels are told in words") {
  Bench bench(coil_p, coil_p);
  Channel& harmonic = bench.add("a", Value::normalised_reactance, 240e3);
  CHECK(describe(bench.sensor, harmonic) == "normalised reactance at 240 kHz, coil upper");
  harmonic.receive = Bench::lower;
  harmonic.frequency = 1.2e6;
  CHECK(describe(bench.sensor, harmonic) == "normalised reactance at 1.2 MHz, through from upper to lower");
  const Channel decay = bench.add_decay("b", 10e-6, 2e-6);
  CHECK(describe(bench.sensor, decay) == "decay at 10 us over 2 us, coil upper");
  const Channel gauge = bench.add("c", Value::rim_thickness);
  CHECK(describe(bench.sensor, gauge) == "rim thickness");
  CHECK(std::string(model_of(decay, CoinModel::planar)) == "planar");
  CHECK(std::string(model_of(decay, CoinModel::finite)) == "finite coin");
  CHECK(std::string(model_of(gauge, CoinModel::finite)) == "dimension");
}

TEST_CASE("phases are told on the branch of the nominal coin") {
  // Inductive to resistive over steel as permeability falls: the phase crosses zero without a jump, and stays
  // continuous past -180 degrees for a through channel whose nominal phase is near it.
  Bench bench(coil_p, coil_p);
  bench.add("p", Value::phase, 8e3).receive = Bench::lower;
  const auto coin_of = [](double thickness) { return BenchCoin{{{thickness, 14e6, 1}}}; };
  // A plate turns the through phase by its thickness over the skin depth: pass half a turn between the two coins.
  const SensorModel model = bench.model(coin_of(2.0e-3));
  coin::CoinBlock coins = coin_of(2.0e-3).block();
  for (std::size_t lane = 0; lane < 8; ++lane) {
    coins.of(0, Of::face_thickness)[lane] = 1.0e-3 + 0.25e-3 * double(lane);
    coins.piece(Piece::thickness)[lane] = coins.of(0, Of::face_thickness)[lane];
  }
  Readings out(1, 8);
  SensorModel::Workspace workspace = model.workspace(8);
  model.read(coins, bench.inputs, {}, Conditions::drawn, workspace, out);
  CHECK(out.values[0][4] == Approx(model.nominal()[0]).epsilon(1e-12));
  for (std::size_t lane = 1; lane < 8; ++lane) CHECK(std::abs(out.values[0][lane] - out.values[0][lane - 1]) < 0.6);
  CHECK(std::abs(out.values[0][7] - out.values[0][0]) > 1.0);
}
