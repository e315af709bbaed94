#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "engine/signature/prepared_sensor.hpp"
#include "engine/signature/reference_disc.hpp"

// What a prepared sensor reads on its reference pieces, and the scales that follow.

namespace mintspread::signature {
namespace {

using Complex = std::complex<double>;

// Reference pieces fix a scale once and get a finer rule than production.
constexpr double reference_tolerance = 1e-8;

double thickness_of(const ReferencePiece& piece) {
  double thickness = 0;
  for (const ReferencePiece::Layer& layer : piece.layers) thickness += layer.thickness;
  return thickness;
}

}  // namespace

/// Coils of a channel over a reference piece: planar, and as the disc has them.
struct PreparedSensor::OverPiece {
  Box box;
  std::vector<DiscCoil> coils;
};

PreparedSensor::OverPiece PreparedSensor::over(const ReferencePiece& piece, const Channel& channel) const {
  const MountedCoil &drive = sensor.coils[channel.drive], &receive = sensor.coils[channel.receive];
  const std::size_t count = piece.layers.size();
  OverPiece found{Box(count, 8), {}};
  for (std::size_t lane = 0; lane < 8; ++lane)
    for (std::size_t i = 0; i < count; ++i) {
      const ReferencePiece::Layer& layer = piece.layers[drive.side == Side::above ? i : count - 1 - i];
      found.box.set(lane, i, layer.thickness, layer.conductivity, layer.permeability);
    }
  const auto gap = [&](std::size_t coil) {
    const bool rests_here = (sensor.coils[coil].side == Side::above) == (sensor.slot.rest == Rest::above);
    return (rests_here ? play : width - play - thickness_of(piece)) + recess[coil];
  };
  std::ranges::fill(found.box.distance(), gap(channel.drive) + gap(channel.receive));
  found.coils.push_back({drive.coil, drive.side, gap(channel.drive)});
  if (channel.drive != channel.receive) found.coils.push_back({receive.coil, receive.side, gap(channel.receive)});
  return found;
}

/// Mutual inductance over a reference piece at the channel's frequency, H.
Complex PreparedSensor::piece_coupling(const ReferencePiece& piece, std::size_t c) const {
  const Channel& channel = sensor.channels[c];
  const OverPiece at = over(piece, channel);
  const Complex s(0, plans[c].angular_frequency);
  if (piece.diameter > 0) return reference_disc_couplings(piece, at.coils, std::span(&s, 1)).front();
  const PlanarBlock block = at.box.block();
  const PlanarRule rule =
      make_rule(sensor.coils[channel.drive].coil, sensor.coils[channel.receive].coil,
                coupling({channel.drive, channel.receive}), std::span(&s, 1), block, reference_tolerance);
  Columns mutual(2, 8);
  mutual_inductance(rule, std::span(&s, 1), block, mutual);
  return {mutual[0][0], mutual[1][0]};
}

std::optional<double> PreparedSensor::piece_value(const ReferencePiece& piece, std::size_t c) const {
  const Channel& channel = sensor.channels[c];
  if (channel.value == Value::rim_thickness) return thickness_of(piece);
  Columns value(1, 8);
  if (channel.value == Value::decay_voltage) {
    const OverPiece at = over(piece, channel);
    const PlanarBlock block = at.box.block();
    const DecayGate gate{channel.gate.time, channel.gate.width, channel.ramp};
    const PreparedDecay one = prepare_decay(sensor.coils[channel.drive].coil, sensor.coils[channel.receive].coil,
                                            coupling({channel.drive, channel.receive}), std::span(&gate, 1), block);
    if (piece.diameter > 0) {
      double voltage = 0;
      for (const DecayContour& contour : one.contours) {
        const auto couplings = reference_disc_couplings(piece, at.coils, contour.plan.s);
        for (std::size_t m = 0; m < couplings.size(); ++m)
          voltage += (contour.plan.coefficients[m] * couplings[m]).real();
      }
      return std::isfinite(voltage) ? std::optional(voltage * channel.current) : std::nullopt;
    }
    Columns mutual(2 * one.most_points(), 8);
    decay_voltage(one, block, mutual, value);
    return value[0][0] * channel.current;
  }
  const Complex coupled = piece_coupling(piece, c);
  Columns mutual(2, 8);
  std::ranges::fill(mutual[0], coupled.real());
  std::ranges::fill(mutual[1], coupled.imag());
  harmonic_values(channel.value, plans[c], mutual[0], mutual[1], value[0]);
  return std::isfinite(value[0][0]) ? std::optional(value[0][0]) : std::nullopt;
}

/// The line between both discs of a channel that is told by it; the piece values are then 0 and 1.
void PreparedSensor::prepare_line(std::size_t c) {
  const ReferenceScale& scale = *sensor.channels[c].scale;
  const Complex s(0, plans[c].angular_frequency);
  const Complex first = s * piece_coupling(sensor.reference_pieces[scale.first_piece], c);
  const Complex second = s * piece_coupling(sensor.reference_pieces[scale.second_piece], c);
  plans[c].first_disc = first;
  plans[c].per_step = 1.0 / (second - first);
}

void PreparedSensor::prepare_scale(std::size_t c) {
  const Channel& channel = sensor.channels[c];
  const ReferenceScale& scale = *channel.scale;
  const std::string path = channel.path + ".scale";
  if (channel.value == Value::apparent_conductivity && !plans[c].conductivity->monotone()) return;
  const ReferencePiece* pieces[] = {&sensor.reference_pieces[scale.first_piece],
                                    &sensor.reference_pieces[scale.second_piece]};
  double values[2];
  for (std::size_t i = 0; i < 2; ++i) {
    if (const double thickness = thickness_of(*pieces[i]); thickness + play > width) {
      problems_.push_back({pieces[i]->path,
                           fmt::format("the reference piece does not fit the slot: {:g} mm with a play of {:g} mm in a "
                                       "width of {:g} mm",
                                       thickness * 1e3, play * 1e3, width * 1e3),
                           ""});
      return;
    }
    if (i == 0 && is_between_discs(channel.value)) prepare_line(c);
    const std::optional<double> value = piece_value(*pieces[i], c);
    if (!value) {
      problems_.push_back(
          {path,
           "reference piece `" + pieces[i]->name + "` has no value in this channel (" + describe(sensor, channel) + ")",
           "Scale by other pieces, or read at another frequency."});
      return;
    }
    values[i] = *value;
  }
  // Beside the line from disc to disc stands neither; a step along it spans as many metres there.
  if (channel.value == Value::rim_condition) values[0] = 0.0, values[1] = 1.0;
  const double difference = values[1] - values[0];
  if (std::abs(difference) <= 1e-6 * std::max(std::abs(values[0]), std::abs(values[1]))) {
    problems_.push_back(
        {path,
         "this channel reads the same on `" + pieces[0]->name + "` and `" + pieces[1]->name + "`, so they fix no scale",
         "Use pieces that differ in what this channel sees."});
    return;
  }
  plans[c].gain = (scale.second_reading - scale.first_reading) / difference;
  plans[c].offset = channel.value == Value::rim_condition ? 0.0 : scale.first_reading - plans[c].gain * values[0];
}

}  // namespace mintspread::signature
