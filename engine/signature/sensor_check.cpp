#include <fmt/format.h>

#include <cmath>
#include <map>

#include "engine/base/contract.hpp"
#include "engine/signature/channel_value.hpp"
#include "engine/signature/decay.hpp"
#include "engine/signature/expression.hpp"
#include "engine/signature/sensor_model.hpp"

namespace mintspread::signature {
namespace {

constexpr double smallest_radius = 0.5e-3, largest_radius = 20e-3;
constexpr double lowest_frequency = 1e3, highest_frequency = 10e6;

const char* name_of(Value value) {
  switch (value) {
    case Value::resistance:
      return "resistance";
    case Value::reactance:
      return "reactance";
    case Value::normalised_resistance:
      return "normalised resistance";
    case Value::normalised_reactance:
      return "normalised reactance";
    case Value::magnitude:
      return "magnitude";
    case Value::phase:
      return "phase";
    case Value::apparent_diameter:
      return "apparent diameter";
    case Value::rim_condition:
      return "rim condition";
    case Value::apparent_conductivity:
      return "apparent conductivity";
    case Value::decay_voltage:
      return "decay";
    case Value::rim_thickness:
      return "rim thickness";
    case Value::diameter:
      return "diameter";
    case Value::mass:
      return "mass";
    case Value::expression:
      return "expression";
  }
  return "";
}

std::string frequency_text(double frequency) {
  if (frequency >= 1e6) return fmt::format("{:g} MHz", frequency / 1e6);
  if (frequency >= 1e3) return fmt::format("{:g} kHz", frequency / 1e3);
  return fmt::format("{:g} Hz", frequency);
}

std::string time_text(double time) {
  return time >= 1e-3 ? fmt::format("{:g} ms", time * 1e3) : fmt::format("{:g} us", time * 1e6);
}

void check_coil(const MountedCoil& coil, std::vector<Problem>& problems) {
  const Coil& c = coil.coil;
  if (!(c.inner_radius >= 0) || !(c.outer_radius > c.inner_radius))
    problems.push_back({coil.path, "the coil's outer radius must be larger than its inner radius", ""});
  else if (!(c.outer_radius >= smallest_radius) || !(c.outer_radius <= largest_radius))
    problems.push_back(
        {coil.path + ".outer radius",
         fmt::format("an outer radius of {:g} mm lies outside 0.5 to 20 mm, where the planar solution is known "
                     "to be accurate",
                     c.outer_radius * 1e3),
         ""});
  if (!(c.length > 0)) problems.push_back({coil.path + ".length", "the coil's length must be positive", ""});
  if (!(c.turns > 0)) problems.push_back({coil.path + ".turns", "the coil must have turns", ""});
}

void check_piece(const ReferencePiece& piece, std::vector<Problem>& problems) {
  if (piece.layers.empty()) problems.push_back({piece.path, "the reference piece has no layer", ""});
  if (!(piece.diameter >= 0) || std::isinf(piece.diameter))
    problems.push_back({piece.path + ".diameter", "the diameter of a reference piece must be positive", ""});
  if (piece.diameter > 0 && piece.layers.size() > 1)
    problems.push_back({piece.path + ".diameter", "a reference piece with a diameter is a disc of one layer",
                        "Leave the diameter out: the piece is then taken as wider than what coils see."});
  for (const ReferencePiece::Layer& layer : piece.layers)
    if (!(layer.thickness > 0) || !(layer.conductivity >= 0) || !(layer.permeability > 0) ||
        std::isinf(layer.thickness)) {
      problems.push_back(
          {piece.path,
           "a layer of the reference piece needs a positive thickness and permeability and a conductivity "
           "that is not negative",
           ""});
      break;
    }
}

void check_scale(const Sensor& sensor, const Channel& channel, std::vector<Problem>& problems) {
  const ReferenceScale& scale = *channel.scale;
  expect(scale.first_piece < sensor.reference_pieces.size() && scale.second_piece < sensor.reference_pieces.size(),
         "a scale names reference pieces of its sensor");
  const std::string path = channel.path + ".scale";
  if (channel.value == Value::expression)
    problems.push_back({path, "an expression cannot be scaled by reference pieces",
                        "Scale the channels it uses, or write the scale into the expression."});
  else if (channel.value == Value::diameter || channel.value == Value::mass)
    problems.push_back(
        {path, "reference pieces state no diameter and no mass to scale this channel by", "Leave `scale` out."});
  else if (is_between_discs(channel.value) && !(sensor.reference_pieces[scale.first_piece].diameter > 0 &&
                                                sensor.reference_pieces[scale.second_piece].diameter > 0))
    problems.push_back({path,
                        std::string("a channel of value `") + name_of(channel.value) +
                            "` is told between two reference discs, and these have no diameter",
                        "Give both pieces a `diameter`."});
  else if (scale.first_piece == scale.second_piece)
    problems.push_back({path, "a scale needs two different reference pieces", ""});
  else if (scale.first_reading == scale.second_reading)
    problems.push_back({path, "both reference pieces are to give the same reading, so every coin would", ""});
}

void check_channel(const Sensor& sensor, const Channel& channel, std::vector<Problem>& problems) {
  if (is_harmonic(channel.value) || channel.value == Value::decay_voltage)
    expect(channel.drive < sensor.coils.size() && channel.receive < sensor.coils.size(),
           "a channel names coils of its sensor");
  if (is_harmonic(channel.value) && !(channel.frequency >= lowest_frequency && channel.frequency <= highest_frequency))
    problems.push_back({channel.path + ".frequency", "the frequency must lie between 1 kHz and 10 MHz", ""});
  if (channel.value == Value::apparent_conductivity &&
      sensor.coils[channel.drive].side != sensor.coils[channel.receive].side)
    problems.push_back({channel.path + ".value",
                        "no field passes through a half-space, so coils on either side have no apparent conductivity",
                        "Use a coil, or two, on one side."});
  if (channel.value == Value::decay_voltage) {
    const std::vector<Problem> found =
        check_gate({channel.gate.time, channel.gate.width, channel.ramp}, channel.path + ".time");
    problems.insert(problems.end(), found.begin(), found.end());
    if (!(channel.current > 0) || std::isinf(channel.current))
      problems.push_back({channel.path + ".current", "the current before switch-off must be positive", ""});
  }
  if (!(channel.resolution >= 0) || std::isinf(channel.resolution))
    problems.push_back({channel.path + ".resolution", "the step of a reading cannot be negative", ""});
  if (channel.scale) check_scale(sensor, channel, problems);
  if (is_between_discs(channel.value) && !channel.scale)
    problems.push_back({channel.path + ".scale",
                        std::string("a channel of value `") + name_of(channel.value) + "` needs two reference discs",
                        "For example `scale: {small disc: 20 mm, large disc: 24 mm}`."});
}

}  // namespace

std::string describe(const Sensor& sensor, const Channel& channel) {
  if (channel.value == Value::expression) return channel.expression;
  const std::string what = name_of(channel.value);
  if (is_dimension(channel.value)) return what;
  const MountedCoil &drive = sensor.coils[channel.drive], &receive = sensor.coils[channel.receive];
  std::string coils = "coil " + drive.name;
  if (channel.drive != channel.receive)
    coils = drive.side == receive.side ? "coils " + drive.name + " and " + receive.name
                                       : "through from " + drive.name + " to " + receive.name;
  if (channel.value != Value::decay_voltage) return what + " at " + frequency_text(channel.frequency) + ", " + coils;
  std::string gate = what + " at " + time_text(channel.gate.time);
  if (channel.gate.width > 0) gate += " over " + time_text(channel.gate.width);
  return gate + ", " + coils;
}

const char* model_of(const Channel& channel, CoinModel model) {
  if (channel.value == Value::expression) return "expression";
  if (is_dimension(channel.value)) return "dimension";
  return model == CoinModel::finite ? "finite coin" : "planar";
}

std::vector<Problem> check_sensor(const Sensor& sensor) {
  std::vector<Problem> problems;
  for (const MountedCoil& coil : sensor.coils) check_coil(coil, problems);
  for (const ReferencePiece& piece : sensor.reference_pieces) check_piece(piece, problems);
  std::map<std::string, std::string> called;
  std::vector<std::string> before;
  for (const Channel& channel : sensor.channels) {
    check_channel(sensor, channel, problems);
    const auto [same, fresh] = called.emplace(variable_name(channel.name), channel.name);
    if (!fresh)
      problems.push_back({channel.path,
                          "an expression could not tell channel `" + channel.name + "` from `" + same->second +
                              "`: both are `" + same->first + "` there",
                          "Give one of them another name."});
    if (channel.value == Value::expression) {
      try {
        Expression(channel.expression, before, channel.path + ".expression");
      } catch (const InvalidSpecification& invalid) {
        problems.insert(problems.end(), invalid.problems().begin(), invalid.problems().end());
      }
    }
    before.push_back(channel.name);
  }
  return problems;
}

}  // namespace mintspread::signature
