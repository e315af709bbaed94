#include "engine/signature/sensor_model.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/signature/prepared_sensor.hpp"

namespace mintspread::signature {

namespace {

using Piece = coin::CoinBlock::Piece;

constexpr double undefined = std::numeric_limits<double>::quiet_NaN();

/// Buffers of one thread.
struct ReadBuffers {
  ReadBuffers(const PreparedSensor& prepared, std::size_t lanes)
      : stack(prepared.construction, lanes),
        nominal(3 + prepared.recess.size(), lanes),
        reversed(lanes),
        distance(1, lanes),
        expressions(prepared.expressions) {
    const double slot[] = {prepared.width, prepared.play, prepared.temperature};
    for (std::size_t c = 0; c < 3; ++c) std::fill(nominal[c].begin(), nominal[c].end(), slot[c]);
    for (std::size_t c = 0; c < prepared.recess.size(); ++c)
      std::fill(nominal[3 + c].begin(), nominal[3 + c].end(), prepared.recess[c]);
    for (const HarmonicGroup& group : prepared.harmonic) harmonic.emplace_back(2 * group.s.size(), lanes);
    for (const DecayGroup& group : prepared.decay) {
      decay_mutual.emplace_back(2 * group.prepared.most_points(), lanes);
      decay_voltage.emplace_back(group.gates.size(), lanes);
    }
  }
  PlacedStack stack;
  Columns nominal;  // width, play, temperature, recess of each coil
  std::vector<std::uint8_t> reversed;
  Columns distance;
  std::vector<Columns> harmonic, decay_mutual, decay_voltage;
  std::vector<Expression> expressions;
};

/// Value of a channel before scale, unit, noise and step: SI, or in its unit for an expression.
void bare_values(const PreparedSensor& own, std::size_t c, const coin::CoinBlock& coins, ReadBuffers& buffers,
                 const Columns& before, std::span<double> values) {
  const Channel& channel = own.sensor.channels[c];
  const ChannelPlan& plan = own.plans[c];
  switch (channel.value) {
    case Value::rim_thickness:
      std::ranges::copy(coins.piece(Piece::thickness), values.begin());
      return;
    case Value::diameter:
      std::ranges::copy(coins.piece(Piece::diameter), values.begin());
      return;
    case Value::mass:
      std::ranges::copy(coins.piece(Piece::mass), values.begin());
      return;
    case Value::decay_voltage:
      for (std::size_t lane = 0; lane < values.size(); ++lane)
        values[lane] = channel.current * buffers.decay_voltage[plan.group][plan.position][lane];
      return;
    case Value::expression:
      buffers.expressions[own.expression_of[c]].evaluate(before, values);
      return;
    default:
      harmonic_values(channel.value, plan, buffers.harmonic[plan.group][2 * plan.position],
                      buffers.harmonic[plan.group][2 * plan.position + 1], values);
  }
}

void read_block(const PreparedSensor& own, const coin::CoinBlock& coins, const Columns& inputs,
                std::span<const double> side, Conditions conditions, ReadBuffers& buffers, Readings& out) {
  const Slot& slot = own.sensor.slot;
  const bool drawn = conditions != Conditions::nominal;
  const std::size_t lanes = coins.lanes();
  expect(buffers.stack.lanes() == lanes && out.values.lanes() == lanes && out.unsolved.size() == lanes,
         "SensorModel::read: all blocks have the same lanes");

  const auto condition = [&](InputId id, std::size_t nominal) {
    return drawn ? inputs[index(id)] : std::span<const double>(std::as_const(buffers.nominal)[nominal]);
  };
  const auto recess = [&](std::size_t coil) { return condition(own.sensor.coils[coil].recess, 3 + coil); };

  if (slot.side_up == SideUp::either && drawn) {
    expect(side.size() == lanes, "SensorModel::read: a slot that takes either side up needs a uniform a lane");
    for (std::size_t lane = 0; lane < lanes; ++lane) buffers.reversed[lane] = side[lane] < 0.5 ? 0 : 1;
  } else {
    std::ranges::fill(buffers.reversed, slot.side_up == SideUp::reverse ? 1 : 0);
  }
  buffers.stack.place(coins, {condition(slot.width, 0), condition(slot.play, 1), condition(slot.temperature, 2)},
                      slot.rest, buffers.reversed);
  std::ranges::copy(buffers.stack.unsolved(), out.unsolved.begin());

  const auto seen_by = [&](const Pair& pair) -> PlanarBlock {
    const Side from = own.sensor.coils[pair.drive].side;
    buffers.stack.distance(from, recess(pair.drive), own.sensor.coils[pair.receive].side, recess(pair.receive),
                           buffers.distance[0]);
    return {buffers.stack.seen_from(from), buffers.distance[0]};
  };
  const auto note_unsolved = [&](const Columns& found, std::size_t columns) {
    for (std::size_t column = 0; column < columns; ++column)
      for (std::size_t lane = 0; lane < lanes; ++lane)
        if (std::isnan(found[column][lane])) out.unsolved[lane] = 1;
  };
  for (std::size_t g = 0; g < own.harmonic.size(); ++g) {
    const HarmonicGroup& group = own.harmonic[g];
    mutual_inductance(group.rule, group.s, seen_by(group.pair), buffers.harmonic[g]);
    note_unsolved(buffers.harmonic[g], 2 * group.s.size());
  }
  for (std::size_t g = 0; g < own.decay.size(); ++g) {
    const DecayGroup& group = own.decay[g];
    decay_voltage(group.prepared, seen_by(group.pair), buffers.decay_mutual[g], buffers.decay_voltage[g]);
    note_unsolved(buffers.decay_voltage[g], group.gates.size());
  }

  for (std::size_t c = 0; c < own.plans.size(); ++c) {
    const Channel& channel = own.sensor.channels[c];
    const std::span<double> values = out.values[c];
    bare_values(own, c, coins, buffers, out.values, values);
    if (channel.value != Value::expression)
      for (double& value : values) value = channel.unit.from_si(own.plans[c].offset + own.plans[c].gain * value);
    if (drawn && channel.noise) {
      const auto noise = inputs[index(*channel.noise)];
      for (std::size_t lane = 0; lane < lanes; ++lane) values[lane] += channel.unit.spread_from_si(noise[lane]);
    }
    if (conditions == Conditions::drawn && channel.resolution > 0) {
      // To the nearest step, half-way cases to the even one.
      const double step = channel.unit.spread_from_si(channel.resolution);
      for (double& value : values) value = step * std::nearbyint(value / step);
    }
  }
  for (std::size_t c = 0; c < own.plans.size(); ++c)
    for (std::size_t lane = 0; lane < lanes; ++lane)
      if (out.unsolved[lane] != 0) out.values[c][lane] = undefined;
}

}  // namespace

struct SensorModel::Prepared : PreparedSensor {
  using PreparedSensor::PreparedSensor;
};

struct SensorModel::Workspace::Buffers : ReadBuffers {
  using ReadBuffers::ReadBuffers;
};

SensorModel::Workspace::Workspace(std::unique_ptr<Buffers> buffers) : buffers_(std::move(buffers)) {}
SensorModel::Workspace::~Workspace() = default;
SensorModel::Workspace::Workspace(Workspace&&) noexcept = default;
SensorModel::Workspace& SensorModel::Workspace::operator=(Workspace&&) noexcept = default;

SensorModel::SensorModel(Sensor sensor, const coin::CoinBlock& coins, const Columns& inputs, double tolerance) {
  auto made = std::make_unique<Prepared>(std::move(sensor), coins, inputs, tolerance);
  // The nominal readings come from the same code as production's.
  const std::size_t channels = made->sensor.channels.size();
  Workspace::Buffers buffers(*made, coins.lanes());
  Readings readings(channels, coins.lanes());
  read_block(*made, coins, inputs, {}, Conditions::nominal, buffers, readings);
  for (std::size_t c = 0; c < channels; ++c) made->nominal.push_back(readings.values[c][0]);
  prepared_ = std::move(made);
}

SensorModel::~SensorModel() = default;
SensorModel::SensorModel(SensorModel&&) noexcept = default;
SensorModel& SensorModel::operator=(SensorModel&&) noexcept = default;

const Sensor& SensorModel::sensor() const { return prepared_->sensor; }
std::span<const double> SensorModel::nominal() const { return prepared_->nominal; }
std::span<const std::vector<std::string>> SensorModel::marks() const { return prepared_->marks; }
std::span<const NominalImpedance> SensorModel::nominal_impedances() const { return prepared_->impedances; }
std::span<const NominalDecay> SensorModel::nominal_decays() const { return prepared_->decays; }
double SensorModel::planar_error() const { return prepared_->planar_error; }
double SensorModel::decay_error() const { return prepared_->decay_error; }

void SensorModel::last_impedance(const Workspace& workspace, std::size_t row, std::span<double> resistance,
                                 std::span<double> reactance) const {
  expect(row < prepared_->impedances.size(), "a row of nominal_impedances()");
  // Rows stand in the order of the groups and of their frequencies.
  std::size_t group = 0;
  for (; row >= prepared_->harmonic[group].s.size(); ++group) row -= prepared_->harmonic[group].s.size();
  const double angular_frequency = prepared_->harmonic[group].s[row].imag();
  const Columns& mutual = workspace.buffers_->harmonic[group];
  for (std::size_t lane = 0; lane < resistance.size(); ++lane) {
    // i omega (a + i b) = -omega b + i omega a.
    resistance[lane] = -angular_frequency * mutual[2 * row + 1][lane];
    reactance[lane] = angular_frequency * mutual[2 * row][lane];
  }
}

void SensorModel::last_voltage(const Workspace& workspace, std::size_t row, std::span<double> voltage) const {
  expect(row < prepared_->decays.size(), "a row of nominal_decays()");
  const NominalDecay& of = prepared_->decays[row];
  for (std::size_t g = 0; g < prepared_->decay.size(); ++g) {
    const DecayGroup& group = prepared_->decay[g];
    const auto gate = std::ranges::find(group.gates, DecayGate{of.time, of.width, of.ramp});
    if (group.pair != Pair{of.drive, of.receive} || gate == group.gates.end()) continue;
    const auto column = workspace.buffers_->decay_voltage[g][static_cast<std::size_t>(gate - group.gates.begin())];
    for (std::size_t lane = 0; lane < voltage.size(); ++lane) voltage[lane] = of.current * column[lane];
  }
}

SensorModel::Workspace SensorModel::workspace(std::size_t lanes) const {
  return Workspace(std::make_unique<Workspace::Buffers>(*prepared_, lanes));
}

void SensorModel::read(const coin::CoinBlock& coins, const Columns& inputs, std::span<const double> side,
                       Conditions conditions, Workspace& workspace, Readings& out) const {
  read_block(*prepared_, coins, inputs, side, conditions, *workspace.buffers_, out);
}

}  // namespace mintspread::signature
