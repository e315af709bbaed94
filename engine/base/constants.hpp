#pragma once

#include <numbers>

namespace mintspread {

inline constexpr double pi = std::numbers::pi;

/// Magnetic constant, H/m. 4 pi 1e-7: the value before the 2019 revision of the SI, 5e-10 relative from the measured
/// one.
inline constexpr double mu0 = 4e-7 * pi;

/// J/(mol K): k N_A, exact in the SI brochure, 9th edition.
inline constexpr double gas_constant = 1.380649e-23 * 6.02214076e23;

/// Conductivity of 100 % IACS at 20 C, S/m (IEC 60028:1925, from memory).
inline constexpr double iacs_conductivity = 58.0e6;

/// 0 degrees Celsius in kelvin (exact, SI brochure).
inline constexpr double celsius_zero = 273.15;

/// Reference temperature of the materials handbook, K: 20 C.
inline constexpr double reference_temperature = celsius_zero + 20.0;

}  // namespace mintspread
