#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/input_id.hpp"
#include "engine/base/unit.hpp"

namespace mintspread::signature {

/// Circular coil of rectangular section, coaxial with the coin.
struct Coil {
  double inner_radius, outer_radius, length;  ///< m
  double turns;
};

enum class Side { above, below };

/// A coil behind a wall of the slot. `recess` is the distance from the wall's coin side to the coil's near face.
struct MountedCoil {
  std::string name;
  std::string path;
  Side side;
  Coil coil;
  InputId recess;  ///< m
};

enum class Rest { below, above };                ///< the wall the coin lies against
enum class SideUp { obverse, reverse, either };  ///< `either`: half the readings each

/// Two parallel walls; the coin between them. Every gap follows from these and the coin's own thickness.
struct Slot {
  InputId width;        ///< wall to wall, m
  InputId play;         ///< distance between the coin's rim and the wall it rests on, m
  InputId temperature;  ///< of the coin when read, K
  Rest rest = Rest::below;
  SideUp side_up = SideUp::obverse;
};

/// A voltage after the drive current is switched off, averaged over the gate.
struct Gate {
  double time;   ///< centre, s after the current has begun to fall
  double width;  ///< s; 0 samples at `time`
};

enum class Value {
  resistance,             ///< Re dZ, ohm
  reactance,              ///< Im dZ, ohm
  normalised_resistance,  ///< Re dZ over the drive coil's reactance in air (same-side pair: sqrt of the product)
  normalised_reactance,   ///< through-transmission: the total, by the same product
  magnitude,              ///< |dZ|, ohm
  phase,                  ///< arg dZ, rad
  apparent_diameter,      ///< where dZ stands along the line from the first to the second disc of the scale, m
  rim_condition,          ///< how far dZ stands beside that line, told in the diameters it spans, m
  apparent_conductivity,  ///< of the non-magnetic half-space with the same phase at nominal lift-off, S/m
  decay_voltage,          ///< V, at the channel's drive current
  rim_thickness,          ///< rim to rim, m
  diameter,               ///< m
  mass,                   ///< kg
  expression              ///< of the channels before it
};

/// Linear scale fixed by two named reference pieces of the sensor, measured in this slot under nominal conditions. The
/// readings are SI values of the channel's unit (for counts the number itself), as noise and resolution are.
struct ReferenceScale {
  std::size_t first_piece, second_piece;  ///< positions in Sensor::reference_pieces
  double first_reading, second_reading;
};

/// One number a sensor tells. For through-transmission the impedance is the total mutual impedance, not a change.
struct Channel {
  std::string name;
  std::string path;
  Value value = Value::resistance;
  std::size_t drive = 0, receive = 0;  ///< positions in Sensor::coils; equal for a self-coil
  double frequency = 0.0;              ///< Hz, harmonic values
  Gate gate{};                         ///< decay values
  double ramp = 0.0;                   ///< s, time the current takes to fall; 0 is an ideal step
  double current = 1.0;                ///< A
  std::string expression;              ///< of the readings of the channels before it; its result is in `unit` already
  std::optional<ReferenceScale> scale;
  std::optional<InputId> noise;  ///< added to the reading, SI of its unit
  double resolution = 0.0;       ///< step of the reading, SI of its unit; 0 is continuous
  Unit unit;                     ///< of the reading: the physical unit, or counts
};

/// A disc or stack that scales a channel, with fixed properties at the slot's nominal temperature; layers from its
/// upper face. It lies in the slot as a coin would, and has no rim: its faces are its field. Without a diameter it is
/// taken as wider than what coils see.
struct ReferencePiece {
  std::string name;
  std::string path;
  struct Layer {
    double thickness, conductivity, permeability;
  };
  std::vector<Layer> layers;
  double diameter = 0.0;  ///< m; 0: not stated
};

struct Sensor {
  std::string name;
  std::string note;
  Slot slot;
  std::vector<MountedCoil> coils;
  std::vector<ReferencePiece> reference_pieces;
  std::vector<Channel> channels;
};

}  // namespace mintspread::signature
