#pragma once

#include <complex>
#include <cstddef>
#include <memory>
#include <span>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// One layer of the coin in every lane: m, S/m, relative. A thickness of 0 is transparent.
struct LayerColumns {
  std::span<const double> thickness, conductivity, permeability;
};

/// A stack of unlimited width in every lane. Layers run from the face that the drive coil looks at; air lies behind.
/// `distance` is the sum of the gaps from the drive coil and from the receive coil to the faces they look at:
/// twice the lift-off for a self-coil, upper plus lower gap for through-transmission.
struct PlanarBlock {
  std::span<const LayerColumns> layers;
  std::span<const double> distance;
  std::size_t lanes() const { return distance.size(); }
};

enum class Coupling {
  reflected,   ///< both coils on one side: mutual inductance, change against air
  transmitted  ///< one coil on either side: total mutual inductance
};

/// Quadrature over the spatial frequency k for one pair of coils: M = sum of weight * exp(-k (distance - reference)) *
/// rho(k).
struct PlanarShortcuts;
struct PlanarRule {
  Coupling coupling = Coupling::reflected;
  double reference_distance = 0.0;
  std::vector<double> nodes;    ///< 1/m
  std::vector<double> weights;  ///< H; negative ones occur for pairs
  double tolerance = 1e-6;      ///< asked for; the kernel's own shortcuts may use three tenths of it
  double error = 0.0;           ///< largest relative error found when the rule was checked, in the norm of its coupling
  std::shared_ptr<const PlanarShortcuts>
      shortcuts;  ///< of the kernel over the rule's box; none: decided block by block
};

/// The smallest rule found that reproduces the exact integral within `tolerance` over the lanes of `box` (the nominal
/// coin and corners of what will be asked) and the given complex frequencies: Gauss rules for the coils' own spectral
/// weight (see gauss_rule.hpp) up to 64 nodes, twice that for a pair of different coils, then Gauss-Legendre panels.
/// Each is measured against panels that resolve everything, and must stay below 0.3 tolerance, since corners are not
/// the whole box. When nothing does, the best is returned: compare `error` with the tolerance. Takes 10 to 100 ms.
/// Norms: reflected |error| / |dM| (pairs: over pi mu0 INT |W1 W2 rho| dk), with 1e-8 of the value for |rho| = 1 as the
/// least; transmitted |error| at most tolerance of the value or 1e-12 of the air value, whichever is larger.
/// On a contour into the left half-plane the last points lie near the poles of rho and cost nodes out of all proportion
/// to what they weigh in the sum: leave out points that do not count.
PlanarRule make_rule(const Coil& drive, const Coil& receive, Coupling coupling, std::span<const std::complex<double>> s,
                     const PlanarBlock& box, double tolerance = 1e-6);

/// Mutual inductance (H) in every lane at each complex frequency: column 2 m of `out` is the real part at s[m], 2 m + 1
/// the imaginary part. Impedance is s times it. Lanes are a multiple of 8; shapes that do not fit break the contract,
/// data never throws: a lane with NaN or infinity in any column gives NaN. No allocation. Dispatches on the processor,
/// same bits on AVX2 and AVX-512. A lane's value does not depend on its neighbours as long as the block stays within
/// the rule's box, widened generously; beyond, shortcuts are decided by the extremes of the block, which shows in
/// digits beyond the tolerance.
void mutual_inductance(const PlanarRule& rule, std::span<const std::complex<double>> s, const PlanarBlock& block,
                       Columns& out);

/// Name of the vector path in use: "AVX2", "AVX3", ...
const char* processor_path();

/// Self-inductance of a coil in air, H (Dodd & Deeds 1968).
double self_inductance(const Coil& coil);

}  // namespace mintspread::signature
