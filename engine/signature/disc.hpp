#pragma once

#include <complex>
#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// S/m, relative.
struct DiscMetal {
  double conductivity, permeability;
};

/// One plating layer of a disc, m. Any thickness may be 0: the layer is missing there. The wall between field and rim
/// carries the face's thickness.
struct DiscLayer {
  double face_up, face_down;        ///< on the field
  double rim;                       ///< radial, on the cylinder
  double rim_top_up, rim_top_down;  ///< on top of the raised rim
  DiscMetal metal;

  /// The same thickness on field and rim top of both faces.
  static DiscLayer wrapped(double face, double rim, DiscMetal metal) { return {face, face, rim, face, face, metal}; }
};

/// A coin of finite radius, rotationally symmetric. m. The platings are part of all dimensions.
struct Disc {
  double diameter;
  double field_thickness;                 ///< between the fields
  double rim_width;                       ///< of the raised rim; both faces
  double rim_height_up, rim_height_down;  ///< of the rim over the field
  DiscMetal core;
  std::vector<DiscLayer> layers;  ///< from the outside in
};

/// A coil coaxial with the coin, `gap` (m) from the coin's outermost plane on its side: the top of the rim, or the
/// field of a coin without one.
struct DiscCoil {
  Coil coil;
  Side side;
  double gap;
};

enum class DiscResolution {
  standard,  ///< within 0.1 % of a converged solution
  fine       ///< within 0.01 %
};

struct DiscOptions {
  DiscResolution resolution = DiscResolution::standard;
  bool error = true;      ///< solve on a second, coarser mesh as well (half as much time again)
  bool gradient = false;  ///< derivatives of every mutual inductance
};

enum class DiscStatus {
  solved,
  impossible,  ///< such a coin, coil or s does not exist: `fault` says what to change
  unresolved   ///< not a number, or the two resolutions differ by over 2 %
};

/// Derivatives of one mutual inductance, by what they are taken to: H per m, per S/m, or per unit of permeability.
struct DiscGradient {
  using Value = std::complex<double>;
  Value diameter, field_thickness, rim_width, rim_height_up, rim_height_down;
  struct Metal {
    Value conductivity, permeability;
  };
  struct Layer {
    Value face_up, face_down, rim, rim_top_up, rim_top_down;
    Metal metal;
  };
  Metal core;
  std::vector<Layer> layers;
  std::vector<Value> gaps;  ///< one a coil; that of a coil outside the pair is 0
};

/// Mutual inductances (H) of all pairs of coils, row by row. Between coils on one side the change against air; through
/// the coin the total. NaN unless solved.
struct DiscSolution {
  DiscStatus status = DiscStatus::unresolved;
  std::string fault;
  std::size_t coils = 0;
  std::vector<std::complex<double>> mutual;
  std::vector<double> error;            ///< estimated, relative to |M|; empty when not asked for
  std::vector<DiscGradient> gradients;  ///< of each pair, empty when not asked for
  std::size_t unknowns = 0;             ///< radial functions

  const std::complex<double>& between(std::size_t drive, std::size_t receive) const {
    return mutual[drive * coils + receive];
  }
};

/// What makes this arrangement impossible, with a remedy; empty if nothing.
std::string disc_fault(const Disc& disc, std::span<const DiscCoil> coils, std::complex<double> s);

/// All couplings of coaxial coils with a coin of finite size at one complex frequency s (time dependence exp(s t)).
///
/// The vector potential A(r, z) e_phi obeys curl (1/mu) curl A + s conductivity A = J; displacement currents are
/// neglected. It is expanded in piecewise polynomials of r (continuous, high order, edges on every radius where the
/// metal changes, the last element stretched to a far wall), which leaves ordinary differential equations in z. In air
/// they are solved by their modes, in a slab of the coin by a rational function of the radial operator (see
/// disc_slab.hpp), and slabs are joined by block elimination. After the truncated region expansions of Theodoulidis &
/// Kriezis, Eddy Current Canonical Problems, 2006, and Sun, Bowler & Theodoulidis, IEEE Trans. Magn. 41, 2455 (2005),
/// with elements in place of Bessel functions, which converge for magnetic metals as well.
///
/// `error` is the difference to a coarser mesh and so overstates that of the result. A standard solution is off by more
/// than 0.1 % relative to a reading that passes zero: ask for the fine one when `error` says so. Where a magnetic core
/// has a skin depth below a thousandth of the radius, corners take the fine mesh anyway. The far wall alone is common
/// to both meshes: it stands where it changes a reading by less than 1e-5.
DiscSolution solve_disc(const Disc& disc, std::span<const DiscCoil> coils, std::complex<double> s,
                        const DiscOptions& options = {});

}  // namespace mintspread::signature
