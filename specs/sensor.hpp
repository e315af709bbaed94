#pragma once

#include "specs/context.hpp"
#include "specs/materials.hpp"

namespace mintspread::specs {

/// Reads the checked tree of a sensor file into the model: slot, coils, reference pieces and channels, with their
/// inputs. Conditions and noise vary from reading to reading unless `per` says otherwise. Also runs the engine's own
/// check of the sensor.
void read_sensor(const Node& root, const Handbook& handbook, Context& context);

/// Unit a channel is read in where nothing is stated.
MeasuredUnit default_unit(signature::Value value);

/// What a channel measures, whatever its unit: phase an angle, decay a voltage. Empty for an expression, whose result
/// has the unit that is written.
std::optional<Dimension> dimension_of(signature::Value value);

}  // namespace mintspread::specs
