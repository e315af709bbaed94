#pragma once

#include <optional>
#include <string>
#include <utility>

#include "specs/context.hpp"
#include "specs/files.hpp"
#include "specs/quantity_text.hpp"

namespace mintspread::specs {

/// A gauge file: what is read, where, and how well. SI.
struct Gauge {
  enum class Reads { layer_thickness, non_magnetic_layers, element_mass, weight_gain, chord };

  std::string name, note;
  Reads reads = Reads::layer_thickness;
  Dimension dimension;         ///< of its readings
  std::string layer, element;  ///< where `reads` needs one
  std::string at;              ///< face centre, face mean or rim; empty where it says nothing
  std::size_t pieces = 1;      ///< whose mean a reading is
  std::optional<std::pair<double, double>> range;
  double bias = 0, bias_uncertainty = 0;
  double bias_freedom = 0;       ///< degrees of freedom of that uncertainty; 0: not stated
  double proportional_bias = 0;  ///< what is stated in per cent, and the longer way of a section off the normal
  Stretch repeatability;         ///< standard deviation of one reading
  std::size_t readings = 0;      ///< of one piece, from which the repeatability was found; 0: not stated

  double repeatability_at(double value) const;  ///< SI
};

/// Checks and reads the tree of a gauge file; nothing where it has faults, which are findings.
std::optional<Gauge> read_gauge(const Node& root, Context& context);

/// Reads the gauge file at `path`. Throws RejectedSpecification with every problem found.
Gauge read_gauge_file(const std::string& path, const FileReader& files = disk_files());

/// "the thickness of layer copper at the face centre".
std::string told(const Gauge& gauge);

}  // namespace mintspread::specs
