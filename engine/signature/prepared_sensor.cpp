#include "engine/signature/prepared_sensor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <memory>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/signature/reference_disc.hpp"

namespace mintspread::signature {
namespace {

using Complex = std::complex<double>;
using Piece = coin::CoinBlock::Piece;

template <class T>
std::size_t position_of(std::vector<T>& list, const T& value) {
  const auto found = std::find(list.begin(), list.end(), value);
  if (found != list.end()) return static_cast<std::size_t>(found - list.begin());
  list.push_back(value);
  return list.size() - 1;
}

template <class Group>
std::size_t group_of(std::vector<Group>& groups, const Pair& pair) {
  const auto found = std::find_if(groups.begin(), groups.end(), [&](const Group& group) { return group.pair == pair; });
  if (found != groups.end()) return static_cast<std::size_t>(found - groups.begin());
  groups.emplace_back().pair = pair;
  return groups.size() - 1;
}

/// Lanes of the placed stacks as the pair sees them, one after the other; an unsolved lane repeats the nominal one.
Box box_for(const Sensor& sensor, const Pair& pair, std::span<const PlacedStack> stacks, const Columns& inputs) {
  const MountedCoil &drive = sensor.coils[pair.drive], &receive = sensor.coils[pair.receive];
  const std::size_t lanes = stacks.front().lanes(), layers = stacks.front().seen_from(drive.side).size();
  Box box(layers, lanes * stacks.size());
  for (std::size_t k = 0; k < stacks.size(); ++k) {
    const std::span<double> distance = box.distance().subspan(k * lanes, lanes);
    stacks[k].distance(drive.side, inputs[index(drive.recess)], receive.side, inputs[index(receive.recess)], distance);
    const auto seen = stacks[k].seen_from(drive.side);
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      const std::size_t from = std::isnan(distance[lane]) ? 0 : lane;
      distance[lane] = distance[from];
      for (std::size_t i = 0; i < layers; ++i)
        box.set(k * lanes + lane, i, seen[i].thickness[from], seen[i].conductivity[from], seen[i].permeability[from]);
    }
  }
  return box;
}

}  // namespace

Box::Box(std::size_t layers, std::size_t lanes) : columns_(3 * layers + 1, lanes) {
  for (std::size_t i = 0; i < layers; ++i)
    layers_.push_back({columns_[3 * i], columns_[3 * i + 1], columns_[3 * i + 2]});
}

void Box::set(std::size_t lane, std::size_t layer, double thickness, double conductivity, double permeability) {
  columns_[3 * layer][lane] = thickness;
  columns_[3 * layer + 1][lane] = conductivity;
  columns_[3 * layer + 2][lane] = permeability;
}

PreparedSensor::PreparedSensor(Sensor of, const coin::CoinBlock& coins, const Columns& inputs, double tolerance,
                               FiniteCoins of_disc)
    : sensor(std::move(of)),
      construction(coins.construction()),
      finite(std::move(of_disc)),
      problems_(check_sensor(sensor)) {
  if (!problems_.empty()) throw InvalidSpecification(std::move(problems_));
  expect(inputs.lanes() == coins.lanes(), "SensorModel: inputs and coins have the same lanes");
  width = inputs[index(sensor.slot.width)][0];
  play = inputs[index(sensor.slot.play)][0];
  temperature = inputs[index(sensor.slot.temperature)][0];
  for (const MountedCoil& coil : sensor.coils) {
    recess.push_back(inputs[index(coil.recess)][0]);
    if (!(recess.back() >= 0)) problems_.push_back({coil.path + ".recess", "a recess cannot be negative", ""});
  }
  const std::vector<PlacedStack> stacks = place_box(coins, inputs);
  if (!problems_.empty()) throw InvalidSpecification(std::move(problems_));

  group_channels();
  std::vector<Box> of_harmonic, of_decay;
  for (HarmonicGroup& group : harmonic) {
    const PlanarBlock block = of_harmonic.emplace_back(box_for(sensor, group.pair, stacks, inputs)).block();
    group.rule = make_rule(sensor.coils[group.pair.drive].coil, sensor.coils[group.pair.receive].coil,
                           coupling(group.pair), group.s, block, tolerance);
    planar_error = std::max(planar_error, group.rule.error);
  }
  for (DecayGroup& group : decay) {
    const PlanarBlock block = of_decay.emplace_back(box_for(sensor, group.pair, stacks, inputs)).block();
    group.prepared = prepare_decay(sensor.coils[group.pair.drive].coil, sensor.coils[group.pair.receive].coil,
                                   coupling(group.pair), group.gates, block);
    decay_error = std::max(decay_error, group.prepared.error);
  }
  tell_nominal(coins, inputs, of_harmonic, of_decay);
  for (std::size_t c = 0; c < sensor.channels.size(); ++c)
    if (sensor.channels[c].scale) prepare_scale(c);
  if (!problems_.empty()) throw InvalidSpecification(std::move(problems_));
  mark_channels(coins);
}

Coupling PreparedSensor::coupling(const Pair& pair) const {
  return sensor.coils[pair.drive].side == sensor.coils[pair.receive].side ? Coupling::reflected : Coupling::transmitted;
}

/// The box with the side up that readings have, or with both.
std::vector<PlacedStack> PreparedSensor::place_box(const coin::CoinBlock& coins, const Columns& inputs) {
  const Slot& slot = sensor.slot;
  std::vector<PlacedStack> stacks;
  for (const SideUp side : {SideUp::obverse, SideUp::reverse}) {
    if (slot.side_up != SideUp::either && slot.side_up != side) continue;
    const std::vector<std::uint8_t> reversed(coins.lanes(), side == SideUp::reverse ? 1 : 0);
    stacks.emplace_back(construction, coins.lanes())
        .place(coins, {inputs[index(slot.width)], inputs[index(slot.play)], inputs[index(slot.temperature)]}, slot.rest,
               reversed);
  }
  if (stacks.front().unsolved()[0] != 0)
    problems_.push_back(
        {"sensor.slot.width",
         fmt::format("the nominal coin cannot be read in this slot: {:g} mm rim to rim with a play of {:g} "
                     "mm in a width of {:g} mm, at {:g} K",
                     coins.piece(Piece::thickness)[0] * 1e3, play * 1e3, width * 1e3, temperature),
         "Widen the slot. Play must not be negative."});
  return stacks;
}

void PreparedSensor::group_channels() {
  std::vector<std::string> before;
  for (const Channel& channel : sensor.channels) {
    ChannelPlan& plan = plans.emplace_back();
    expression_of.push_back(ChannelPlan::none);
    const Pair pair{channel.drive, channel.receive};
    if (channel.value == Value::expression) {
      expression_of.back() = expressions.size();
      expressions.emplace_back(channel.expression, before, channel.path + ".expression");
    } else if (channel.value == Value::decay_voltage) {
      plan.group = group_of(decay, pair);
      plan.position =
          position_of(decay[plan.group].gates, DecayGate{channel.gate.time, channel.gate.width, channel.ramp});
    } else if (is_harmonic(channel.value)) {
      plan.group = group_of(harmonic, pair);
      plan.position = position_of(harmonic[plan.group].frequencies, channel.frequency);
      plan.angular_frequency = 2 * pi * channel.frequency;
    }
    before.push_back(channel.name);
  }
  std::vector<double> self;
  for (const MountedCoil& mounted : sensor.coils) self.push_back(self_inductance(mounted.coil));
  for (HarmonicGroup& group : harmonic) {
    for (const double frequency : group.frequencies) group.s.emplace_back(0, 2 * pi * frequency);
    group.air_inductance = std::sqrt(self[group.pair.drive] * self[group.pair.receive]);
  }
  for (std::size_t c = 0; c < plans.size(); ++c)
    if (is_harmonic(sensor.channels[c].value))
      plans[c].air_reactance = plans[c].angular_frequency * harmonic[plans[c].group].air_inductance;
}

/// What the nominal coin couples and how it decays; scales of conductivity, which refer to it.
void PreparedSensor::tell_nominal(const coin::CoinBlock& coins, const Columns& inputs, std::span<const Box> of_harmonic,
                                  std::span<const Box> of_decay) {
  // The first lanes of a box are those of `coins`, the nominal one first; those alone are turned into finite coins.
  const std::size_t lanes = coins.lanes();
  const auto first_lanes = [lanes](const Columns& all) {
    Columns some(all.count(), lanes);
    for (std::size_t column = 0; column < all.count(); ++column)
      std::ranges::copy(all[column].first(lanes), some[column].begin());
    return some;
  };
  std::vector<Columns> mutual, voltages;
  for (std::size_t g = 0; g < harmonic.size(); ++g) {
    const PlanarBlock block = of_harmonic[g].block();
    Columns all(2 * harmonic[g].s.size(), block.lanes());
    mutual_inductance(harmonic[g].rule, harmonic[g].s, block, all);
    mutual.push_back(first_lanes(all));
  }
  for (std::size_t g = 0; g < decay.size(); ++g) {
    const PlanarBlock block = of_decay[g].block();
    Columns scratch(2 * decay[g].prepared.most_points(), block.lanes()), all(decay[g].gates.size(), block.lanes());
    decay_voltage(decay[g].prepared, block, scratch, all);
    voltages.push_back(first_lanes(all));
  }
  if (finite.any()) {
    const Slot& slot = sensor.slot;
    const FiniteCoin& lying =
        slot.side_up == SideUp::reverse && finite.reverse_up ? *finite.reverse_up : *finite.obverse_up;
    std::vector<std::span<const double>> recesses;
    for (const MountedCoil& coil : sensor.coils) recesses.push_back(inputs[index(coil.recess)]);
    FiniteCoin::Scratch scratch = lying.scratch(lanes);
    const std::vector<std::uint8_t> reversed(lanes, slot.side_up == SideUp::reverse && !finite.reverse_up ? 1 : 0);
    lying.state().write(coins, {inputs[index(slot.width)], inputs[index(slot.play)], inputs[index(slot.temperature)]},
                        reversed, recesses, scratch.state);
    std::vector<std::uint8_t> outside(lanes);
    lying.correct(scratch, mutual, voltages, {}, outside);
  }
  for (std::size_t g = 0; g < harmonic.size(); ++g) tell_impedances(g, mutual[g], of_harmonic[g]);
  for (std::size_t c = 0; c < plans.size(); ++c) {
    const Channel& channel = sensor.channels[c];
    if (channel.value == Value::decay_voltage)
      decays.push_back({channel.drive, channel.receive, channel.gate.time, channel.gate.width, channel.ramp,
                        channel.current, voltages[plans[c].group][plans[c].position][0] * channel.current});
  }
}

void PreparedSensor::tell_impedances(std::size_t g, const Columns& mutual, const Box& box) {
  const HarmonicGroup& group = harmonic[g];
  const bool through = coupling(group.pair) == Coupling::transmitted;
  for (std::size_t m = 0; m < group.s.size(); ++m) {
    const Complex impedance = group.s[m] * Complex(mutual[2 * m][0], mutual[2 * m + 1][0]);
    const Complex normalised =
        through ? Complex(std::nan(""), std::nan("")) : impedance / (group.s[m].imag() * group.air_inductance);
    impedances.push_back({group.pair.drive, group.pair.receive, group.frequencies[m], impedance.real(),
                          impedance.imag(), normalised.real(), normalised.imag(), through});
    for (std::size_t c = 0; c < plans.size(); ++c)
      if (is_harmonic(sensor.channels[c].value) && plans[c].group == g && plans[c].position == m)
        plans[c].reference_phase = std::arg(impedance);
  }
  for (std::size_t c = 0; c < plans.size(); ++c)
    if (sensor.channels[c].value == Value::apparent_conductivity && plans[c].group == g) prepare_conductivity(box, c);
}

void PreparedSensor::prepare_conductivity(const Box& box, std::size_t c) {
  const Channel& channel = sensor.channels[c];
  const Coil &drive = sensor.coils[channel.drive].coil, &receive = sensor.coils[channel.receive].coil;
  const PlanarBlock block = box.block();
  const auto scale = std::make_shared<ConductivityScale>(drive, receive, block.distance[0], channel.frequency);
  plans[c].conductivity = scale;
  if (!scale->monotone()) {
    problems_.push_back(
        {channel.path + ".value",
         "the phase of this pair of coils does not fall steadily with conductivity, so it cannot tell one",
         "Use one coil, or two that lie closer together."});
    return;
  }
  const double phase = plans[c].reference_phase;
  if (!std::isnan(scale->conductivity(phase))) return;
  const std::optional<double> first = first_frequency_with_conductivity(drive, receive, block, channel.frequency);
  problems_.push_back(
      {channel.path + ".frequency",
       fmt::format(
           "the nominal coin has no apparent conductivity at {:g} kHz: no non-magnetic half-space has its phase "
           "of {:.1f} deg",
           channel.frequency / 1e3, phase * 180 / pi),
       first
           ? fmt::format("The first frequency at which it has one is {:g} kHz; or read resistance, reactance or phase.",
                         *first / 1e3)
           : "It has none up to 10 MHz: read resistance, reactance or phase."});
}

void PreparedSensor::mark_channels(const coin::CoinBlock& coins) {
  using Of = coin::CoinBlock::Of;
  const bool ferromagnetic = std::ranges::any_of(construction.section, [&](std::size_t metal) {
    return coins.of(metal, Of::permeability)[0] >= 2 && coins.of(metal, Of::face_thickness)[0] > 0;
  });
  marks.resize(sensor.channels.size());
  for (std::size_t c = 0; c < marks.size(); ++c) {
    if (plans[c].group != ChannelPlan::none && !finite.any())
      marks[c] = planar_marks(sensor, sensor.channels[c], coins.piece(Piece::diameter)[0] / 2,
                              coins.piece(Piece::rim_width)[0], ferromagnetic);
    if (expression_of[c] == ChannelPlan::none) continue;
    for (const std::size_t used : expressions[expression_of[c]].used())
      if (!marks[used].empty())
        marks[c].push_back("uses `" + sensor.channels[used].name + "`, whose planar value is marked");
  }
}

}  // namespace mintspread::signature
