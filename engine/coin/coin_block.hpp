#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"

namespace mintspread::coin {

/// What all pieces of a study have in common: which metals lie in which order.
struct Construction {
  std::vector<std::string>
      metals;  ///< a route: "blank", then its baths by name in order; a section: its layers by name
  std::vector<std::size_t> section;  ///< positions in `metals` from the upper face to the lower
  std::size_t core = 0;              ///< position in `metals`
  /// Of each metal the first of the sublayers with which it is one layer to who looks less closely, else itself. Empty:
  /// there are no sublayers.
  std::vector<std::size_t> joined = {};
};

/// Pieces side by side: one lane, one piece. SI units. Columns of a metal hold the plating of both faces when the
/// metal stands twice in the section, so both faces then have the same thickness.
///
/// Of a metal: `face_thickness` is local, at the middle of the field, where coils look; of the core it is what the
/// field leaves between the platings, so that the section adds up to `field_thickness`. `rim_thickness` is radial, 0
/// for the core. `volume` holds all of the metal: both faces and rim.
///
/// Of a piece: a cylinder of `diameter` and `thickness` (rim to rim) with a flat recess in each face of radius diameter
/// / 2 - rim_width, as deep as the rim height there; thickness = field_thickness + rim_height_up + rim_height_down. A
/// piece without relief is the plain cylinder. `face_thinning` and `rim_thinning` are the strike's own ratios, struck
/// over as-plated plating thickness, 1 without a strike. `weight` is 1, or 0 for a removed piece; a piece that cannot
/// be made or computed has NaN in `diameter` and counts as unsolved.
class CoinBlock {
 public:
  enum class Of { face_thickness, rim_thickness, volume, conductivity, permeability, density, temperature_coefficient };
  enum class Piece {
    diameter,
    thickness,
    field_thickness,
    rim_width,
    rim_height_up,
    rim_height_down,
    volume,
    mass,
    face_thinning,
    rim_thinning,
    weight
  };

  CoinBlock(Construction construction, std::size_t lanes);

  const Construction& construction() const { return construction_; }
  std::size_t lanes() const { return columns_.lanes(); }

  std::span<double> of(std::size_t metal, Of what) { return columns_[position(metal, what)]; }
  std::span<const double> of(std::size_t metal, Of what) const { return columns_[position(metal, what)]; }
  std::span<double> piece(Piece what) { return columns_[position(what)]; }
  std::span<const double> piece(Piece what) const { return columns_[position(what)]; }

 private:
  static constexpr std::size_t per_metal = 7;
  static constexpr std::size_t per_piece = 11;
  std::size_t position(std::size_t metal, Of what) const { return metal * per_metal + static_cast<std::size_t>(what); }
  std::size_t position(Piece what) const {
    return construction_.metals.size() * per_metal + static_cast<std::size_t>(what);
  }

  Construction construction_;
  Columns columns_;
};

/// Volume and mass of every piece, the sum over its metals.
void add_up(CoinBlock& block);

/// Writes NaN into the diameter of every piece that cannot exist: a layer of negative thickness, a core or field that
/// is not there, a rim wider than the radius or below the field, a plated piece too large for its collar, a property
/// out of its physical range, any NaN. Lanes are independent.
void mark_impossible(CoinBlock& block);

}  // namespace mintspread::coin
