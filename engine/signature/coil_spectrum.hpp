#pragma once

#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// INT_a^b x J1(x) dx for 0 <= a <= b, the radial part of a coil's spectrum (Dodd & Deeds, J. Appl. Phys. 39, 2829,
/// 1968). With X(x) = (pi x / 2) [J1(x) H0(x) - J0(x) H1(x)] (Struve functions; DLMF 10.22.2) it is X(b) - X(a).
/// Absolute error below 1e-15 max(1, b sqrt b), about what the rounding of b costs; relative error below 1e-13 for b
/// < 1.
double bessel_moment(double a, double b);

/// Spectral weight W(k) of a coil whose near face touches the plane of reference, 1/m in k, m2 in value:
///   W(k) = n chi(k r1, k r2) / k^2 * (1 - exp(-k l)) / k,   n = turns / ((r2 - r1) l),   chi = bessel_moment.
/// A gap z multiplies it by exp(-k z). Two coaxial coils on one side of a layered half-space with reflection
/// coefficient rho have
///   dM = pi mu0 INT W1 W2 exp(-k (z1 + z2)) rho(k) dk.
double coil_weight(const Coil& coil, double k);

/// Radius, m, that sets the scale of a coil's spectrum: the mean of inner and outer radius.
inline double mean_radius(const Coil& coil) { return 0.5 * (coil.inner_radius + coil.outer_radius); }

}  // namespace mintspread::signature
