#pragma once

#include <cstddef>
#include <span>

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

// One function a step. Each takes the pieces as the steps before left them; no allocation, no throw, lanes are independent.

/// Writes the properties of a metal, before heat and work.
void set_properties(const Metal& metal, std::size_t position, const Columns& inputs, coin::CoinBlock& block);

/// Starts every piece as a bare cylinder of strip thickness and rimmed diameter.
void cut(const Blank& blank, const Columns& inputs, coin::CoinBlock& block);

/// Adds a layer to both faces and the rim. With rim thickness r and face mean m the piece grows from (D, t) to (D + 2 r, t + 2 m), and the
/// layer holds exactly the volume between the two cylinders. r = rim_to_face c and m = mean_to_centre c, where c is the
/// as-plated thickness at the face centre. c follows from the stated amount, times `piece_to_piece`:
/// a thickness as it stands; an areal mass by the density; a mass fraction of the piece's finished mass (Piece::mass) by the volume it fills.
/// A local minimum is divided by `minimum_to_mean`, a face mean by `mean_to_centre`, a rim thickness by `rim_to_face`, a struck one by
/// the strike's ratio (Piece::face_thinning, or rim_thinning on the rim). A mass fraction has no place, stage or statistic.
void plate(const Bath& bath, std::size_t position, const Columns& inputs, coin::CoinBlock& block);

/// Multiplies conductivity and permeability of the named metals.
void change_properties(std::span<const PropertyChange> changes, const Columns& inputs, coin::CoinBlock& block);

/// Ratios of struck to as-plated plating thickness: faces by their area, (D / collar)^2, the rim by its own, D t / (collar rim_thickness).
/// Every layer is taken to stretch with the whole face, or the whole rim. False when no lane's ratio moved by a bit.
bool set_thinning(const Strike& strike, const Columns& inputs, coin::CoinBlock& block);

/// Presses the piece to the collar's diameter and the stated rim-to-rim thickness. The volume is the sum over the metals and stays;
/// what it leaves after the rim ring of the stated width fills the field. The height between rim and field is split between the faces as
/// the stated heights are to each other. Layers thin by set_thinning(), the core takes the rest of the field.
void strike(const Strike& strike, const Columns& inputs, coin::CoinBlock& block);

}  // namespace mintspread::route
