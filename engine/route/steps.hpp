#pragma once

#include <cstddef>
#include <span>

#include "engine/base/columns.hpp"
#include "engine/base/quad.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

// One function a step. No allocation, no throw, lanes are independent. Geometry runs on four pieces at a time.

/// Four neighbouring pieces of a block with the inputs they are made from.
struct FourPieces {
  const Columns& inputs;
  coin::CoinBlock& block;
  std::size_t lane;

  Quad drawn(InputId id) const { return load_quad(inputs[index(id)], lane); }
  Quad get(std::size_t metal, coin::CoinBlock::Of what) const { return load_quad(block.of(metal, what), lane); }
  Quad get(coin::CoinBlock::Piece what) const { return load_quad(block.piece(what), lane); }
  void put(Quad value, std::size_t metal, coin::CoinBlock::Of what) const {
    store_quad(value, block.of(metal, what), lane);
  }
  void put(Quad value, coin::CoinBlock::Piece what) const { store_quad(value, block.piece(what), lane); }
};

/// The piece between blank and strike: a cylinder, and what lies through the middle of its faces.
struct Cylinder {
  Quad diameter, thickness, through_middle;
  Quad bare_surface;  ///< of the blank, which shares a load's current with the other blanks
};

/// Takes metal off the outermost one at `position`: the volume between the two cylinders. Thicknesses follow later, by
/// thin(), so that plating to a fixed point may repeat this.
void take_off(const Removal& removal, std::size_t position, const FourPieces& four, Cylinder& piece);
void thin(const Removal& removal, std::size_t position, const FourPieces& four);

/// What stated amounts may refer to and only the finished piece shows. `settled` lanes are not touched any more.
struct Finished {
  Quad mass = quad_of(0.0);
  Quad face_thinning = quad_of(1.0), rim_thinning = quad_of(1.0);
  QuadMask settled = {0, 0, 0, 0};
};

/// Writes the properties of a metal in all lanes, before heat and work.
void set_properties(const Metal& metal, std::size_t position, const Columns& inputs, coin::CoinBlock& block);

/// Multiplies conductivity and permeability of the named metals in all lanes: a factor as it stands; in an anneal 1 +
/// (factor - 1) X where the metal softens, the factor times the curve's where there is one.
void change_properties(std::span<const PropertyChange> changes, const Columns& inputs, coin::CoinBlock& block);
void change_properties(const Anneal& anneal, const Columns& inputs, coin::CoinBlock& block);

/// A bare cylinder of strip thickness and rimmed diameter.
Cylinder cut(const Blank& blank, const FourPieces& four);

/// Adds a layer to both faces and the rim. With rim thickness r and face mean m the piece grows from (D, t) to (D + 2
/// r, t + 2 m), and the layer holds exactly the volume between the two cylinders. r = rim_to_face c and m =
/// mean_to_centre c, where c is the as-plated thickness at the face centre. c follows from the stated amount, times
/// `piece_to_piece`: a thickness as it stands; an areal mass by the density; a mass on the piece or a fraction
/// of its finished mass by the volume it fills; a charge by the volume it deposits. A local minimum is divided by
/// `minimum_to_mean`, a face mean by `mean_to_centre`, a rim thickness by `rim_to_face`, a struck one by the strike's
/// ratio (face_thinning, or rim_thinning on the rim). A mass has no place, stage or statistic; for a fraction one call
/// takes one step of Halley's method from the thickness in the block towards its volume. Returns the lanes whose
/// thickness moved by no more than `settled_to`, relative.
QuadMask plate(const Bath& bath, std::size_t position, const Finished& finished, const FourPieces& four,
               Cylinder& piece);

/// Volume that a bath deposits on the piece, m3, by Faraday's laws.
Quad deposited(const Electrolysis& bath, std::size_t position, const FourPieces& four, const Cylinder& piece);

inline constexpr double settled_to = 1e-14;
QuadMask has_settled(Quad from, Quad to);

/// Ratios of struck to as-plated plating thickness: faces by their area, (D / collar)^2, the rim by its own, D t /
/// (collar rim_thickness). Every layer is taken to stretch with the whole face, or the whole rim.
struct Thinning {
  Quad face, rim;
};
Thinning thinning(const Strike& strike, const Cylinder& piece, const FourPieces& four);

/// Presses the piece to the collar's diameter and the stated rim-to-rim thickness. The volume is the sum over the
/// metals and stays; what it leaves after the rim ring of the stated width fills the field. The height between rim and
/// field is split between the faces as the stated heights are to each other. Layers thin by thinning(), the core takes
/// the rest of the field.
void strike(const Strike& strike, const Cylinder& piece, const FourPieces& four);

/// A piece that is not struck keeps its cylinder, without relief.
void leave_unstruck(const Cylinder& piece, const FourPieces& four);

}  // namespace mintspread::route
