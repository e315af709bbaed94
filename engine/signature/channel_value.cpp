#include "engine/signature/channel_value.hpp"

#include <algorithm>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::signature {

void harmonic_values(Value value, const ChannelPlan& plan, std::span<const double> re, std::span<const double> im,
                     std::span<double> out) {
  const double w = plan.angular_frequency, air = plan.air_reactance;
  const auto each = [&](auto&& of) {
    for (std::size_t lane = 0; lane < out.size(); ++lane) out[lane] = of(-w * im[lane], w * re[lane]);
  };
  switch (value) {
    case Value::resistance:
      return each([](double r, double) { return r; });
    case Value::reactance:
      return each([](double, double x) { return x; });
    case Value::normalised_resistance:
      return each([&](double r, double) { return r / air; });
    case Value::normalised_reactance:
      return each([&](double, double x) { return x / air; });
    case Value::magnitude:
      return each([](double r, double x) { return std::sqrt(r * r + x * x); });
    case Value::phase: {
      const double c = std::cos(plan.reference_phase), s = std::sin(plan.reference_phase);
      return each([&](double r, double x) { return plan.reference_phase + std::atan2(x * c - r * s, r * c + x * s); });
    }
    case Value::apparent_diameter:
      return each([&](double r, double x) { return ((std::complex(r, x) - plan.first_disc) * plan.per_step).real(); });
    case Value::rim_condition:
      return each([&](double r, double x) { return ((std::complex(r, x) - plan.first_disc) * plan.per_step).imag(); });
    case Value::apparent_conductivity:
      return each([&](double r, double x) { return plan.conductivity->conductivity(std::atan2(x, r)); });
    case Value::decay_voltage:
    case Value::rim_thickness:
    case Value::diameter:
    case Value::mass:
    case Value::expression:
      break;
  }
  expect(false, "harmonic_values: a harmonic channel");
}

std::vector<std::string> planar_marks(const Sensor& sensor, const Channel& channel, double radius, double rim_width,
                                      bool ferromagnetic) {
  // Measured against a finite disc: through coils over steel are wrong by orders of magnitude; a coil of 0.8 of the
  // coin's radius is off by 2 % over solid copper-nickel at 1 MHz and has the wrong sign of the reactance over plated
  // steel at 60 kHz, and a coil about the rim is off by a quarter to a half; gates from 50 us on are 13 to 19 % off.
  constexpr double inside = 0.6, late = 50e-6;
  std::vector<std::string> marks;
  const MountedCoil &drive = sensor.coils[channel.drive], &receive = sensor.coils[channel.receive];
  const double outer = std::max(drive.coil.outer_radius, receive.coil.outer_radius);
  if (drive.side != receive.side && ferromagnetic)
    marks.push_back(
        "through coils over a ferromagnetic coin: the field goes round the rim, the planar value is meaningless");
  if (outer > radius - rim_width)
    marks.push_back("a coil covers the rim: the planar value has no edge and can be wrong by half");
  else if (outer > inside * radius)
    marks.push_back(
        "a coil reaches beyond 0.6 of the coin's radius: the planar value is off by per cents, more over steel");
  if (channel.value == Value::decay_voltage && channel.gate.time + channel.gate.width / 2 >= late)
    marks.push_back("the gate reaches to 50 us or later: the planar value is off by 10 % and more");
  return marks;
}

}  // namespace mintspread::signature
