#pragma once

#include <array>
#include <cstddef>
#include <string_view>

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/route/route.hpp"

namespace mintspread::route {

// Layers that diffuse into each other in an anneal. Where there are data on the two metals, built in for copper and
// nickel or stated for others, their boundary is cut into sublayers (materials::BlurredBoundary), which stand in the
// coin block behind the layers of the route.

/// INT D dt of both dilute coefficients of a pair, m2.
struct Heat {
  double in_quick = 0.0, in_slow = 0.0;
  bool operator==(const Heat&) const = default;
};

/// INT rate dt of one anneal, at the drawn temperature (K) and time at heat (s).
double dose_of(const materials::Arrhenius& rate, const Anneal& anneal, double temperature, double time);

/// Of one anneal, at the drawn temperature (K) and time at heat (s). Heating and cooling follow the stated profile,
/// whose rise above its coldest point is stretched with the temperature.
Heat heat_of(const materials::DiffusionPair& pair, const Anneal& anneal, double temperature, double time);

/// Symbol of the element that is 98 % of a metal or more; empty for alloys and metals of unknown composition.
std::string_view element_of(const Metal& metal);

/// The data on two elements, stated or built in; null where there are none. Belongs to the route or to the program.
const materials::BlurredBoundary* boundary_of(const Route& route, std::string_view one, std::string_view other);

/// Whether layers of two metals side by side are left as they are, blur, or cannot be told for want of data.
enum class Meeting { alike, blurs, unknown };
Meeting meeting_of(const Route& route, const Metal& one, const Metal& other);

/// A boundary between the metals at `inner` and `inner` + 1 of the construction that some anneal blurs. The route must
/// outlive it.
struct Blur {
  std::size_t inner = 0, first_anneal = 0;  ///< position of the first step that heats it
  bool quick_inside = false;                ///< the metal in which the other diffuses more quickly
  std::size_t first_sublayer = 0;           ///< position in Construction::metals
  std::size_t quick() const { return quick_inside ? inner : inner + 1; }
  std::size_t slow() const { return quick_inside ? inner + 1 : inner; }
  double quick_share = 1.0, slow_share = 1.0;  ///< of the layer's thickness: half where its other face blurs too
  const materials::BlurredBoundary* boundary = nullptr;
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
/// Volumes stay with the layers. Metal that pickling took after the anneal is taken as never there. A lane whose
/// layers are too thin for BlurredBoundary gets NaN in its diameter.
void diffuse(const Route& route, const Columns& inputs, coin::CoinBlock& block);

}  // namespace mintspread::route
