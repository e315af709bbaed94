#pragma once

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/route/check.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

/// Which metals lie in which order. A route: "blank", then its baths in order, each on both faces, then the sublayers
/// of boundaries that an anneal blurs.
coin::Construction construction_of(const Route& route);
coin::Construction construction_of(const Section& section);

/// Makes the pieces: writes every column of `block` (of the route's own construction) from the drawn inputs, one column
/// an input, as many lanes as the block. No allocation, no throw; lanes are independent. A piece that cannot be made
/// gets NaN in its diameter. The route has passed check().
///
/// Route: the steps of steps.hpp in order. Where a layer is stated as part of the finished piece's mass or by its
/// struck thickness, the as-plated amounts and the finished piece depend on each other; the fixed point is found in
/// each lane to 1e-14 of its change. What an anneal blurs is cut into sublayers last (diffusion.hpp).
///
/// Section: layers lie on the faces as measured, on the rim tops like on the field. Plating of the upper face wraps
/// down the rim to half the core's thickness, plating of the lower face up to there; what stands between rim top and
/// field belongs to the core. Flanks of the rim carry no extra area. Rim to rim = sum of the layers + rim heights; mass
/// from volumes and densities.
void form(const Route& route, const Columns& inputs, coin::CoinBlock& block);
void form(const Section& section, const Columns& inputs, coin::CoinBlock& block);

}  // namespace mintspread::route
