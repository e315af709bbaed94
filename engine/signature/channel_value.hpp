#pragma once

#include <complex>
#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "engine/signature/conductivity_scale.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// What turns the mutual inductance of a pair of coils into one channel's value.
struct ChannelPlan {
  static constexpr std::size_t none = static_cast<std::size_t>(-1);
  std::size_t group = none;      ///< harmonic or decay group that computes it
  std::size_t position = 0;      ///< frequency or gate in the group
  double angular_frequency = 0;  ///< 1/s
  double air_reactance = 1;      ///< ohm: of the coil, or the root of the product of both
  double reference_phase = 0;    ///< rad, of the nominal coin: phases are told on the branch around it
  std::shared_ptr<const ConductivityScale> conductivity;
  /// For apparent diameter and rim condition: dZ of the first reference disc, and 1 over the step to the second.
  std::complex<double> first_disc, per_step;
  double gain = 1, offset = 0;  ///< reading = offset + gain * value, SI
};

/// Values told by the impedance at one frequency.
constexpr bool is_harmonic(Value value) { return value <= Value::apparent_conductivity; }
/// Values told by where the impedance stands between two reference discs.
constexpr bool is_between_discs(Value value) {
  return value == Value::apparent_diameter || value == Value::rim_condition;
}
/// Values told by a gauge or a balance.
constexpr bool is_dimension(Value value) {
  return value == Value::rim_thickness || value == Value::diameter || value == Value::mass;
}

/// SI values of a harmonic channel from the real and imaginary parts of M in every lane: dZ = j w M.
void harmonic_values(Value value, const ChannelPlan& plan, std::span<const double> re, std::span<const double> im,
                     std::span<double> out);

/// Short reasons why the planar value of an electromagnetic channel is known to be wrong for a coin of this radius and
/// rim width (m), of which some layer is ferromagnetic or none is.
std::vector<std::string> planar_marks(const Sensor& sensor, const Channel& channel, double radius, double rim_width,
                                      bool ferromagnetic);

}  // namespace mintspread::signature
