#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace mintspread::materials {

/// Coefficient D0 exp(-Q / (R T)), m2/s.
struct Arrhenius {
  double factor;      ///< D0, m2/s
  double activation;  ///< Q, J/mol
  double at(double temperature) const;
  /// INT D dt, m2, while the temperature (K) rises or falls evenly from one to the other in `duration` s. Closed form
  /// by the exponential integral, to 1e-9 above 100 K; both temperatures alike are the plain product.
  double over_ramp(double from, double to, double duration) const;
};

/// Nickel in copper: Almazouzi, Macht, Naundorf & Neumann, Phys. Rev. B 54, 857 (1996).
inline constexpr Arrhenius nickel_in_copper{0.62e-4, 223.8e3};
/// Copper in nickel: Taguchi, Iijima & Hirano 1984, 60.7 kcal/mol.
inline constexpr Arrhenius copper_in_nickel{0.61e-4, 60.7e3 * 4.184};

/// Composition across a couple of two metals that diffuse into each other, by atomic (or volume) fraction c of the
/// second: dc/dtheta = d/dx (D dc/dx), D = ratio^(1 - c), where theta = INT D dt of dilute first metal in the second,
/// m2, and `ratio` is the other dilute coefficient over it. The logarithm of the coefficient is linear in composition:
/// the end values are published, the line between them is a modelling choice. The metals dissolve into each other in
/// every proportion; change of volume on mixing (7 % between copper and nickel) and quick paths along grain boundaries
/// are neglected.
///
/// Finite volumes in the form of fluxes, so that the amount stays to rounding; Crank-Nicolson steps that grow with
/// theta after four backward ones. The first metal fills [-width, 0], the second [0, 1]; both ends are sealed.
class Couple {
 public:
  /// `fineness` cuts every volume into so many; 1 is within 5e-4 of twice as fine anywhere, down to a ratio of 1e-3
  /// (tests).
  Couple(double ratio, double width, double fineness = 1.0);

  /// Goes on to theta, which must not go back.
  void advance(double theta);
  double theta() const { return theta_; }
  /// Composition at a place, linear between the middles of the volumes.
  double at(double x) const;
  /// Of the second metal: starts at 1 and stays.
  double amount() const;

 private:
  void step(double by, double implicit);
  double ratio_, theta_ = 0.0;
  std::vector<double> middle_, size_, fraction_;
};

}  // namespace mintspread::materials
