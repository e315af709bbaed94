#pragma once

#include <cstddef>
#include <vector>

#include "engine/base/aligned.hpp"
#include "engine/signature/disc.hpp"

namespace mintspread::signature {

/// Where the lengths of a Disc stand in a list: diameter, field thickness, rim width, rim heights, then five a layer in
/// the order of DiscLayer.
inline constexpr std::size_t disc_lengths = 5;
inline constexpr std::size_t disc_layer_lengths = 5;

/// A place in the coin's section and how it moves with each length of the disc.
struct DiscPlace {
  double at;
  AlignedReals slope;
};

/// A half-plane section cut into slabs of z; in each slab the metal depends on r alone.
struct DiscSection {
  static constexpr std::size_t air = static_cast<std::size_t>(-1);
  std::vector<DiscMetal> metals;                   ///< of the core, then of the layers
  std::vector<DiscPlace> radii;                    ///< of change of metal, rising; the last is the coin's rim
  std::vector<DiscPlace> levels;                   ///< from the highest to the lowest
  std::vector<std::vector<std::size_t>> profiles;  ///< metal up to each radius; of distinct kinds of slabs
  std::vector<std::size_t> slabs;                  ///< profile between a level and the next
};

/// Nested outlines: outline k is what is left when k layers are taken off field, wall, rim top and cylinder. Radii
/// closer than 1 nm and levels closer than 0.1 nm become one.
DiscSection cut_section(const Disc& disc);

}  // namespace mintspread::signature
