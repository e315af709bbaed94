#pragma once

#include <cstddef>
#include <optional>
#include <vector>

#include "engine/signature/planar.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// Apparent conductivity: that of the non-magnetic half-space whose impedance change has the same phase, for one pair
/// of coils on one side at one frequency and lift-off. Phases run from 0 (poor conductor) to -90 degrees (perfect one).
class ConductivityScale {
 public:
  /// The half-spaces there are, S/m: a tenth of the poorest conductor the planar solution is declared for, to far
  /// beyond the best. A phase that only a poorer one has tells of permeability, not of conductivity.
  static constexpr double lowest = 1e4, highest = 1e9;

  /// `distance` as in PlanarBlock. Prepares a table; throws nothing. A pair whose phase is not monotone in conductivity
  /// has no scale: see monotone().
  ConductivityScale(const Coil& drive, const Coil& receive, double distance, double frequency);

  bool monotone() const { return monotone_; }

  /// Conductivity (S/m) of the half-space with this phase (rad) of the impedance change; NaN where none between
  /// `lowest` and `highest` has it, or the phase is not monotone.
  double conductivity(double phase) const;

  /// Largest relative error of conductivity() found between the points of the table.
  double error() const { return error_; }

 private:
  std::vector<double> phase_;  ///< falling
  std::vector<double> log_conductivity_;
  std::vector<double> slope_;  ///< d log conductivity / d phase
  bool monotone_ = true;
  double error_ = 0.0;
};

/// The first frequency (Hz) at or above `from` at which the coin in the first lane of `block` has an apparent
/// conductivity, rounded up to two digits; nothing when none up to 10 MHz has.
std::optional<double> first_frequency_with_conductivity(const Coil& drive, const Coil& receive,
                                                        const PlanarBlock& block, double from);

}  // namespace mintspread::signature
