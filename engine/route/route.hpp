#pragma once

#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "engine/base/input_id.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "engine/materials/deposition.hpp"
#include "engine/materials/softening.hpp"

namespace mintspread::route {

// The route and the section name inputs by position; a block's drawn values are one column per input.

/// Electromagnetic and mechanical properties of one metal, at 20 C.
struct Metal {
  std::string name;                                      ///< name in the materials handbook
  InputId conductivity;                                  ///< S/m
  InputId permeability;                                  ///< relative, initial
  InputId density;                                       ///< kg/m3
  InputId temperature_coefficient;                       ///< of resistivity, 1/K
  std::vector<materials::Constituent> composition = {};  ///< by mass; empty where the handbook says nothing
};

/// Cut, annealed or not, rimmed, ready for the barrel. A cylinder of strip thickness and rimmed diameter.
struct Blank {
  Metal metal;
  InputId thickness;  ///< of the strip, m
  InputId diameter;   ///< rimmed diameter, m
};

/// How the stated thickness of a plating layer is to be read.
enum class Amount { thickness, areal_mass, mass, mass_fraction, charge };
/// Whether it tells of the whole layer, so that no place, stage or statistic goes with it.
constexpr bool of_whole_layer(Amount amount) { return amount == Amount::mass || amount == Amount::mass_fraction; }
enum class Place { face_centre, face_mean, rim };
enum class Stage { as_plated, struck };
enum class Statistic { mean, local_minimum };

/// A deposit by Faraday's laws. The load's current divides among its pieces as their bare surfaces do: piece by piece,
///     volume = efficiency current time / (charge_for_mass density) * (bare surface of the piece) / (filled area),
/// so that a larger blank takes more metal and no thicker a layer. Faces and rim then share the piece's volume as the
/// bath's ratios say. What the shop sets and measures is the whole load's; `filling` is one draw for all baths of a
/// load.
struct Electrolysis {
  InputId current;               ///< of the load, A
  InputId time;                  ///< s
  InputId efficiency;            ///< of the cathode, 0 .. 1
  InputId filling;               ///< m2, or pieces
  double surface_of_one = 1.0;   ///< m2 in one unit of `filling`: 1, or the nominal blank's surface
  double charge_for_mass = 0.0;  ///< C/kg
};

/// One plating layer, faces and rim.
struct Bath {
  std::string name;
  Metal metal;
  InputId amount;  ///< m, kg/m2, kg on a piece or fraction of the finished piece's mass; unused for a charge
  Amount kind = Amount::thickness;
  Place place = Place::face_centre;
  Stage stage = Stage::as_plated;
  Statistic statistic = Statistic::mean;
  InputId piece_to_piece;   ///< factor about 1 that multiplies the thickness, piece by piece
  InputId rim_to_face;      ///< rim thickness over face-centre thickness
  InputId mean_to_centre;   ///< face-mean over face-centre thickness
  InputId minimum_to_mean;  ///< local minimum over mean
  std::optional<Electrolysis> electrolysis =
      {};  ///< decides the amount of a charge; beside another amount it is compared
};

/// Pickling, burnishing: takes metal off the outermost layer (or the bare blank), evenly over the faces. It does not
/// reach through it: such a piece cannot be made.
struct Removal {
  std::string name;     ///< path of the step: "pickle", "burnish.final"
  InputId thickness;    ///< off each face, m
  InputId rim_to_face;  ///< off the rim, over what goes off the face
};

/// A point of a curve that tells the factors of an anneal over its temperature.
struct CurvePoint {
  double temperature;  ///< K, rising along the curve
  double conductivity, permeability;
};

/// Factors on conductivity and permeability of one metal of the piece ("blank" or a bath's name), by heat or by work.
/// In an anneal they may be those of a metal that is softened all through, of which the drawn heat does a part; or go
/// on top of a curve over the drawn temperature, straight between its points and level beyond them.
struct PropertyChange {
  std::string of;
  InputId conductivity_factor;
  InputId permeability_factor;
  std::optional<materials::Softening> softening = {};
  std::vector<CurvePoint> curve = {};
};

/// Part of a furnace profile outside the time at heat, in parts of the rise from its coldest point.
struct Ramp {
  double duration;  ///< s
  double from, to;
};

/// Recovery as stated factors; with `diffusion`, layers of two metals with known data blur into each other.
struct Anneal {
  std::string name;
  InputId temperature;  ///< K
  InputId time;         ///< s, at heat
  std::vector<PropertyChange> changes;
  bool diffusion = false;
  std::vector<std::string> sealed_under = {};  ///< baths whose inner boundary is stated to stay sharp
  std::optional<InputId> place = {};           ///< in the charge: K added to the temperature
  double coldest = 0.0;                        ///< of the profile, K
  std::vector<Ramp> ramps = {};                ///< heating and cooling; none is an anneal at once hot and at once cold
};

/// Volume is conserved; the collar sets the diameter, the press the rim-to-rim thickness, relief splits the rim height.
struct Strike {
  InputId collar;         ///< diameter, m
  InputId rim_thickness;  ///< rim to rim, m
  InputId rim_width;      ///< m
  InputId rim_height_up;  ///< m; with `down` it gives the split of the height that volume leaves
  InputId rim_height_down;
  std::vector<PropertyChange> changes;
};

using Step = std::variant<Blank, Bath, Removal, Anneal, Strike>;

/// Blank first, one strike at most and then last among the forming steps.
struct Route {
  std::vector<Step> steps;
  /// Of stated pairs, each at most once; copper and nickel are known without.
  std::vector<std::shared_ptr<const materials::BlurredBoundary>> boundaries = {};
};

/// A coin known by its cross-section: no route. Layers from the upper face to the lower.
struct Section {
  struct Layer {
    std::string name;
    Metal metal;
    InputId thickness;      ///< m
    InputId rim_thickness;  ///< m; for the innermost (core) layer unused
  };
  std::vector<Layer> layers;
  std::size_t core = 0;  ///< position of the layer that reaches the rim's inside
  InputId diameter;
  InputId rim_width;
  InputId rim_height_up;
  InputId rim_height_down;
};

}  // namespace mintspread::route
