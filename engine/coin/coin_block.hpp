#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"

namespace mintspread::coin {

/// What all pieces of a study have in common: which metals lie in which order.
struct Construction {
  std::vector<std::string> metals;     ///< names of the metals: the core first for a route, as given for a section
  std::vector<std::size_t> section;    ///< positions in `metals` from the upper face to the lower
  std::size_t core = 0;                ///< position in `metals`
};

/// Pieces side by side: one lane, one piece. SI units. Columns of a metal hold the plating of both faces when the
/// metal stands twice in the section, so both faces then have the same thickness.
/// `weight` is 1, or 0 for a removed piece; a piece that cannot be made or computed has NaN in `diameter` and counts as unsolved.
class CoinBlock {
 public:
  enum class Of { face_thickness, rim_thickness, volume, conductivity, permeability, density, temperature_coefficient };
  enum class Piece { diameter, thickness, field_thickness, rim_width, rim_height_up, rim_height_down, volume, mass, weight };

  CoinBlock(Construction construction, std::size_t lanes);

  const Construction& construction() const { return construction_; }
  std::size_t lanes() const { return columns_.lanes(); }

  std::span<double> of(std::size_t metal, Of what) { return columns_[position(metal, what)]; }
  std::span<const double> of(std::size_t metal, Of what) const { return columns_[position(metal, what)]; }
  std::span<double> piece(Piece what) { return columns_[position(what)]; }
  std::span<const double> piece(Piece what) const { return columns_[position(what)]; }

 private:
  static constexpr std::size_t per_metal = 7;
  static constexpr std::size_t per_piece = 9;
  std::size_t position(std::size_t metal, Of what) const { return metal * per_metal + static_cast<std::size_t>(what); }
  std::size_t position(Piece what) const { return construction_.metals.size() * per_metal + static_cast<std::size_t>(what); }

  Construction construction_;
  Columns columns_;
};

}  // namespace mintspread::coin
