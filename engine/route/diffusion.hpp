#pragma once

#include <array>
#include <cstddef>
#include <string_view>

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

// Plating layers that diffuse into each other in an anneal. Only copper and nickel have data here: their boundary is
// cut into sublayers (materials::BlurredBoundary), which stand in the coin block behind the layers of the route.

/// INT D dt of both dilute coefficients, m2.
struct Heat {
  double in_copper = 0.0, in_nickel = 0.0;
  bool operator==(const Heat&) const = default;
};

/// INT rate dt of one anneal, at the drawn temperature (K) and time at heat (s).
double dose_of(const materials::Arrhenius& rate, const Anneal& anneal, double temperature, double time);

/// Of one anneal, at the drawn temperature (K) and time at heat (s). Heating and cooling follow the stated profile,
/// whose rise above its coldest point is stretched with the temperature.
Heat heat_of(const Anneal& anneal, double temperature, double time);

/// Symbol of the element that is 98 % of a metal or more; empty for alloys and metals of unknown composition.
std::string_view element_of(const Metal& metal);

/// Whether layers of two metals side by side are left as they are, blur, or cannot be told for want of data.
enum class Meeting { alike, blurs, unknown };
Meeting meeting_of(const Metal& one, const Metal& other);

/// A boundary between the metals at `inner` and `inner` + 1 of the construction that some anneal blurs.
struct Blur {
  std::size_t inner = 0, first_anneal = 0;  ///< position of the first step that heats it
  bool copper_inside = false;
  std::size_t first_sublayer = 0;  ///< position in Construction::metals
  std::size_t copper() const { return copper_inside ? inner : inner + 1; }
  std::size_t nickel() const { return copper_inside ? inner + 1 : inner; }
  double copper_share = 1.0, nickel_share = 1.0;  ///< of the layer's thickness: half where its other face blurs too
};
struct Blurs {
  static constexpr std::size_t most = 16;
  std::array<Blur, most> all{};
  std::size_t count = 0;
};
Blurs blurs_of(const Route& route);

/// Adds the sublayers of every blurred boundary to a construction of the route's blank and baths.
void add_sublayers(const Route& route, coin::Construction& construction);

/// Heat of a boundary in one lane, all its anneals together.
Heat heat_of(const Route& route, const Blur& blur, const Columns& inputs, std::size_t lane);

/// Cuts the blurred boundaries of finished pieces into sublayers and takes their thickness from the layers beside them.
/// Widths are those in the furnace times the strike's thinning; on a rim thinner than the face, narrower in proportion.
/// Volumes stay with the layers. Copper that pickling took after the anneal is taken as never there. A lane whose
/// layers are too thin for BlurredBoundary gets NaN in its diameter.
void diffuse(const Route& route, const Columns& inputs, coin::CoinBlock& block);

}  // namespace mintspread::route
