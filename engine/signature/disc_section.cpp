#include "engine/signature/disc_section.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace mintspread::signature {

namespace {

constexpr double nearest_radii = 1e-9, nearest_levels = 1e-10;

/// What is left of the coin when some layers are taken off.
struct Outline {
  DiscPlace radius, wall_up, wall_down, field_up, field_down, top_up, top_down;

  bool raised_up() const {
    return std::abs(top_up.at - field_up.at) > nearest_levels && wall_up.at < radius.at - nearest_radii;
  }
  bool raised_down() const {
    return std::abs(top_down.at - field_down.at) > nearest_levels && wall_down.at < radius.at - nearest_radii;
  }
  bool contains(double r, double z) const {
    if (r > radius.at) return false;
    const double upper = raised_up() && r > wall_up.at ? top_up.at : field_up.at;
    const double lower = raised_down() && r > wall_down.at ? top_down.at : field_down.at;
    return z < upper && z > lower;
  }
};

DiscPlace moved(DiscPlace place, double by, std::size_t length, double direction) {
  place.at += direction * by;
  place.slope[length] += direction;
  return place;
}

std::vector<Outline> outlines(const Disc& disc) {
  const DiscPlace origin{0.0, AlignedReals(disc_lengths + disc_layer_lengths * disc.layers.size(), 0.0)};
  Outline outline{moved(origin, disc.diameter, 0, 0.5),
                  origin,
                  origin,
                  moved(origin, disc.field_thickness, 1, 1.0),
                  origin,
                  origin,
                  origin};
  outline.wall_up = outline.wall_down = moved(outline.radius, disc.rim_width, 2, -1.0);
  outline.top_up = moved(outline.field_up, disc.rim_height_up, 3, 1.0);
  outline.top_down = moved(outline.field_down, disc.rim_height_down, 4, -1.0);
  std::vector<Outline> all{outline};
  for (std::size_t i = 0; i < disc.layers.size(); ++i) {
    const DiscLayer& layer = disc.layers[i];
    const std::size_t at = disc_lengths + disc_layer_lengths * i;
    outline.field_up = moved(outline.field_up, layer.face_up, at, -1.0);
    outline.wall_up = moved(outline.wall_up, layer.face_up, at, 1.0);
    outline.field_down = moved(outline.field_down, layer.face_down, at + 1, 1.0);
    outline.wall_down = moved(outline.wall_down, layer.face_down, at + 1, 1.0);
    outline.radius = moved(outline.radius, layer.rim, at + 2, -1.0);
    outline.top_up = moved(outline.top_up, layer.rim_top_up, at + 3, -1.0);
    outline.top_down = moved(outline.top_down, layer.rim_top_down, at + 4, 1.0);
    all.push_back(outline);
  }
  return all;
}

/// Sorts rising and keeps the first of places that nearly coincide.
void make_distinct(std::vector<DiscPlace>& places, double nearest) {
  std::ranges::stable_sort(places, {}, &DiscPlace::at);
  std::vector<DiscPlace> distinct;
  for (auto& place : places)
    if (distinct.empty() || place.at - distinct.back().at > nearest) distinct.push_back(std::move(place));
  places = std::move(distinct);
}

std::size_t metal_at(const std::vector<Outline>& all, double r, double z) {
  std::size_t depth = 0;
  while (depth < all.size() && all[depth].contains(r, z)) ++depth;
  if (depth == 0) return DiscSection::air;
  return depth == all.size() ? 0 : depth;  // metals: core, then layers
}

}  // namespace

DiscSection cut_section(const Disc& disc) {
  const auto all = outlines(disc);
  DiscSection section;
  section.metals.push_back(disc.core);
  for (const auto& layer : disc.layers) section.metals.push_back(layer.metal);
  std::vector<DiscPlace> levels;
  for (const auto& outline : all) {
    section.radii.push_back(outline.radius);
    levels.push_back(outline.field_up);
    levels.push_back(outline.field_down);
    if (outline.raised_up()) {
      section.radii.push_back(outline.wall_up);
      levels.push_back(outline.top_up);
    }
    if (outline.raised_down()) {
      section.radii.push_back(outline.wall_down);
      levels.push_back(outline.top_down);
    }
  }
  make_distinct(section.radii, nearest_radii);
  make_distinct(levels, nearest_levels);
  std::ranges::reverse(levels);

  for (std::size_t i = 0; i + 1 < levels.size(); ++i) {
    const double middle = 0.5 * (levels[i].at + levels[i + 1].at);
    std::vector<std::size_t> profile;
    double inner = 0.0;
    for (const auto& radius : section.radii) {
      profile.push_back(metal_at(all, 0.5 * (inner + radius.at), middle));
      inner = radius.at;
    }
    const auto known = std::ranges::find(section.profiles, profile);
    const auto position = static_cast<std::size_t>(known - section.profiles.begin());
    if (known == section.profiles.end()) section.profiles.push_back(std::move(profile));
    if (!section.slabs.empty() && section.slabs.back() == position) continue;  // the level separates nothing
    section.levels.push_back(levels[i]);
    section.slabs.push_back(position);
  }
  section.levels.push_back(levels.back());
  return section;
}

}  // namespace mintspread::signature
