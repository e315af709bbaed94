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
        expressions(prepared.expressions),
        recess(prepared.recess.size()) {
    for (const auto& finite : {prepared.finite.obverse_up, prepared.finite.reverse_up})
      if (finite) finite_scratch.push_back(finite->scratch(lanes));
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
  std::vector<std::span<const double>> recess;
  std::vector<FiniteCoin::Scratch> finite_scratch;
  std::vector<std::uint8_t> other_side;
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

/// Turns what the planar solution left in the buffers into the values of the finite coin, whichever side it lies on.
void make_finite(const PreparedSensor& own, const coin::CoinBlock& coins, const SlotColumns& slot, ReadBuffers& buffers,
                 std::span<std::uint8_t> outside) {
  std::size_t scratch = 0;
  for (const bool turned : {false, true}) {
    const auto& finite = turned ? own.finite.reverse_up : own.finite.obverse_up;
    if (!finite) continue;
    FiniteCoin::Scratch& space = buffers.finite_scratch[scratch++];
    const bool both = own.finite.obverse_up && own.finite.reverse_up;
    std::span<const std::uint8_t> skip;
    if (both) {
      buffers.other_side.resize(buffers.reversed.size());
      for (std::size_t lane = 0; lane < buffers.reversed.size(); ++lane)
        buffers.other_side[lane] = (buffers.reversed[lane] != 0) != turned ? 1 : 0;
      skip = buffers.other_side;
    }
    const bool swap = !own.finite.reverse_up;
    finite->state().write(coins, slot,
                          swap ? std::span<const std::uint8_t>(buffers.reversed) : std::span<const std::uint8_t>(),
                          buffers.recess, space.state);
    finite->correct(space, buffers.harmonic, buffers.decay_voltage, skip, outside);
  }
}

/// Channel values from the couplings and voltages in the buffers.
void tell_channels(const PreparedSensor& own, const coin::CoinBlock& coins, const Columns& inputs,
                   Conditions conditions, ReadBuffers& buffers, Readings& out) {
  const bool drawn = conditions != Conditions::nominal;
  const std::size_t lanes = coins.lanes();
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
  }
  for (std::size_t g = 0; g < own.decay.size(); ++g) {
    const DecayGroup& group = own.decay[g];
    decay_voltage(group.prepared, seen_by(group.pair), buffers.decay_mutual[g], buffers.decay_voltage[g]);
  }
  std::ranges::fill(out.outside, std::uint8_t{0});
  if (own.finite.any()) {
    for (std::size_t coil = 0; coil < own.recess.size(); ++coil) buffers.recess[coil] = recess(coil);
    make_finite(own, coins, {condition(slot.width, 0), condition(slot.play, 1), condition(slot.temperature, 2)},
                buffers, out.outside);
  }
  for (std::size_t g = 0; g < own.harmonic.size(); ++g)
    note_unsolved(buffers.harmonic[g], 2 * own.harmonic[g].s.size());
  for (std::size_t g = 0; g < own.decay.size(); ++g) note_unsolved(buffers.decay_voltage[g], own.decay[g].gates.size());

  tell_channels(own, coins, inputs, conditions, buffers, out);
}

/// Errors of a complex quantity.
struct PartErrors {
  double real, imag;
};

/// By how much errors of all quantities, in their order, move each channel of the nominal coin: lane 0 of what stands
/// in the buffers. Added as squares.
std::vector<double> moved_channels(const PreparedSensor& own, const coin::CoinBlock& coins, const Columns& inputs,
                                   std::span<const PartErrors> errors, ReadBuffers& buffers) {
  std::vector<double> squares(own.sensor.channels.size());
  Readings exact(squares.size(), coins.lanes()), moved(squares.size(), coins.lanes());
  tell_channels(own, coins, inputs, Conditions::nominal, buffers, exact);
  const auto move = [&](std::span<double> column, double error) {
    const double kept = column[0];
    column[0] += error;
    tell_channels(own, coins, inputs, Conditions::nominal, buffers, moved);
    column[0] = kept;
    for (std::size_t c = 0; c < squares.size(); ++c) {
      const double difference = moved.values[c][0] - exact.values[c][0];
      squares[c] += difference * difference;
    }
  };
  std::size_t quantity = 0;
  for (Columns& group : buffers.harmonic)
    for (std::size_t m = 0; m + 1 < group.count(); m += 2, ++quantity) {
      move(group[m], errors[quantity].real);
      move(group[m + 1], errors[quantity].imag);
    }
  for (Columns& group : buffers.decay_voltage)
    for (std::size_t gate = 0; gate < group.count(); ++gate) move(group[gate], errors[quantity++].real);
  for (double& square : squares) square = std::sqrt(square);
  return squares;
}

/// Fills both errors of the model from what stands in the buffers for the nominal coin.
void tell_errors(const PreparedSensor& own, const coin::CoinBlock& coins, const Columns& inputs, ReadBuffers& buffers,
                 std::vector<double>& of_surfaces, std::vector<double>& of_solver) {
  of_surfaces.assign(own.sensor.channels.size(), 0.0);
  of_solver = of_surfaces;
  const FiniteCoin* finite = own.finite.obverse_up ? own.finite.obverse_up.get() : own.finite.reverse_up.get();
  if (finite == nullptr) return;
  std::vector<PartErrors> surfaces, solver;
  const auto add = [&](double magnitude, double parts) {
    const std::size_t q = surfaces.size();
    surfaces.push_back({finite->surfaces()[q].held_out_real, finite->surfaces()[q].held_out_imag});
    const double error = finite->solver_error()[q] * magnitude / std::sqrt(parts);
    solver.push_back({error, error});
  };
  for (const Columns& group : buffers.harmonic)
    for (std::size_t m = 0; m + 1 < group.count(); m += 2) add(std::hypot(group[m][0], group[m + 1][0]), 2.0);
  for (const Columns& group : buffers.decay_voltage)
    for (std::size_t gate = 0; gate < group.count(); ++gate) add(std::abs(group[gate][0]), 1.0);
  of_surfaces = moved_channels(own, coins, inputs, surfaces, buffers);
  of_solver = moved_channels(own, coins, inputs, solver, buffers);
}

}  // namespace

struct SensorModel::Prepared : PreparedSensor {
  using PreparedSensor::PreparedSensor;
  std::vector<double> surface_error, solver_error;
};

struct SensorModel::Workspace::Buffers : ReadBuffers {
  using ReadBuffers::ReadBuffers;
};

SensorModel::Workspace::Workspace(std::unique_ptr<Buffers> buffers) : buffers_(std::move(buffers)) {}
SensorModel::Workspace::~Workspace() = default;
SensorModel::Workspace::Workspace(Workspace&&) noexcept = default;
SensorModel::Workspace& SensorModel::Workspace::operator=(Workspace&&) noexcept = default;

SensorModel::SensorModel(Sensor sensor, const coin::CoinBlock& coins, const Columns& inputs, double tolerance,
                         FiniteCoins finite) {
  auto made = std::make_unique<Prepared>(std::move(sensor), coins, inputs, tolerance, std::move(finite));
  // The nominal readings come from the same code as production's.
  const std::size_t channels = made->sensor.channels.size();
  Workspace::Buffers buffers(*made, coins.lanes());
  Readings readings(channels, coins.lanes());
  read_block(*made, coins, inputs, {}, Conditions::nominal, buffers, readings);
  for (std::size_t c = 0; c < channels; ++c) made->nominal.push_back(readings.values[c][0]);
  tell_errors(*made, coins, inputs, buffers, made->surface_error, made->solver_error);
  prepared_ = std::move(made);
}

SensorModel::~SensorModel() = default;
SensorModel::SensorModel(SensorModel&&) noexcept = default;
SensorModel& SensorModel::operator=(SensorModel&&) noexcept = default;

const Sensor& SensorModel::sensor() const { return prepared_->sensor; }
CoinModel SensorModel::coin_model() const { return finite().any() ? CoinModel::finite : CoinModel::planar; }
const FiniteCoins& SensorModel::finite() const { return prepared_->finite; }
const PreparedSensor& SensorModel::prepared() const { return *prepared_; }
std::span<const double> SensorModel::surface_error() const { return prepared_->surface_error; }
std::span<const double> SensorModel::solver_error() const { return prepared_->solver_error; }
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
