#include "engine/route/form.hpp"

#include <algorithm>
#include <numeric>
#include <variant>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/base/quad.hpp"
#include "engine/route/diffusion.hpp"
#include "engine/route/steps.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

// A pass leaves about the fraction (sum of the rim thicknesses) / radius of the error of the pass before: 1e-2 for a
// thick plating, some 0.1 far beyond production.
constexpr int most_passes = 24;

template <class Wanted>
const Wanted* find(const Route& route) {
  for (const Step& step : route.steps) {
    if (const auto* wanted = std::get_if<Wanted>(&step)) return wanted;
  }
  return nullptr;
}

/// Calls `visit(bath, position in Construction::metals)`.
template <class Visit>
void for_each_bath(const Route& route, Visit visit) {
  std::size_t position = 1;
  for (const Step& step : route.steps) {
    if (const auto* bath = std::get_if<Bath>(&step)) visit(*bath, position++);
  }
}

/// Calls `plated(bath, its position)` and `taken(removal, position of its metal)` in the order of the route.
template <class Plated, class Taken>
void for_each_change(const Route& route, Plated plated, Taken taken) {
  std::size_t position = 0;
  for (const Step& step : route.steps) {
    if (const auto* bath = std::get_if<Bath>(&step)) plated(*bath, ++position);
    if (const auto* removal = std::get_if<Removal>(&step)) taken(*removal, position);
  }
}

bool depends_on_finished_piece(const Route& route) {
  bool depends = false;
  for_each_bath(route, [&](const Bath& bath, std::size_t) {
    depends = depends || bath.kind == Amount::mass_fraction || bath.stage == Stage::struck;
  });
  return depends;
}

/// The finished mass from what does not depend on it: mass = sum of the other metals / (1 - sum of the mass fractions).
Quad finished_mass(const Route& route, const FourPieces& four) {
  const auto mass_of = [&](std::size_t metal) { return four.get(metal, Of::volume) * four.get(metal, Of::density); };
  Quad other = mass_of(four.block.construction().core), left = quad_of(1.0);
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) {
    if (bath.kind == Amount::mass_fraction) {
      left -= four.drawn(bath.amount) * four.drawn(bath.piece_to_piece);
    } else {
      other += mass_of(metal);
    }
  });
  return other / left;
}

/// Plates until the stated amounts agree with the finished piece. A lane that has settled is left alone, so that its
/// result does not depend on how long its neighbours take.
Cylinder plate_to_fixed_point(const Route& route, const Blank& blank, const Strike* press, const FourPieces& four) {
  Cylinder piece = cut(blank, four);
  for_each_bath(route, [&](const Bath&, std::size_t metal) {
    four.put(quad_of(0.0), metal, Of::face_thickness);
    four.put(quad_of(0.0), metal, Of::volume);
  });
  Finished finished;
  for (int pass = 0; pass < most_passes && !all(finished.settled); ++pass) {
    const Quad mass = finished_mass(route, four);
    QuadMask settled = has_settled(finished.mass, mass);
    finished.mass = finished.settled ? finished.mass : mass;
    if (press != nullptr) {
      const Thinning ratio = thinning(*press, piece, four);
      settled &= has_settled(finished.face_thinning, ratio.face) & has_settled(finished.rim_thinning, ratio.rim);
      finished.face_thinning = finished.settled ? finished.face_thinning : ratio.face;
      finished.rim_thinning = finished.settled ? finished.rim_thinning : ratio.rim;
    }
    piece = cut(blank, four);
    for_each_change(
        route, [&](const Bath& bath, std::size_t metal) { settled &= plate(bath, metal, finished, four, piece); },
        [&](const Removal& removal, std::size_t metal) { take_off(removal, metal, four, piece); });
    finished.settled |= settled;
  }
  return piece;
}

}  // namespace

coin::Construction construction_of(const Route& route) {
  coin::Construction construction{{"blank"}, {0}, 0};
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) {
    construction.metals.push_back(bath.name);
    construction.section.insert(construction.section.begin(), metal);
    construction.section.push_back(metal);
  });
  add_sublayers(route, construction);
  return construction;
}

coin::Construction construction_of(const Section& section) {
  coin::Construction construction;
  for (const auto& layer : section.layers) construction.metals.push_back(layer.name);
  construction.section.resize(section.layers.size());
  std::iota(construction.section.begin(), construction.section.end(), std::size_t{0});
  construction.core = section.core;
  return construction;
}

void form(const Route& route, const Columns& inputs, CoinBlock& block) {
  const auto* blank = find<Blank>(route);
  const auto* press = find<Strike>(route);
  expect(blank != nullptr, "a route that is formed has a blank");
  set_properties(blank->metal, 0, inputs, block);
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) { set_properties(bath.metal, metal, inputs, block); });

  // Sublayers of the block before would weigh on this one's strike.
  std::size_t sublayer = 1;
  for_each_bath(route, [&](const Bath&, std::size_t) { ++sublayer; });
  for (; sublayer < block.construction().metals.size(); ++sublayer) {
    for (const Of what : {Of::face_thickness, Of::rim_thickness, Of::volume})
      std::ranges::fill(block.of(sublayer, what), 0.0);
  }

  const bool depends = depends_on_finished_piece(route);
  for (std::size_t lane = 0; lane < block.lanes(); lane += quad_lanes) {
    const FourPieces four{inputs, block, lane};
    Cylinder piece;
    if (depends) {
      piece = plate_to_fixed_point(route, *blank, press, four);
    } else {
      piece = cut(*blank, four);
      for_each_change(
          route, [&](const Bath& bath, std::size_t metal) { plate(bath, metal, Finished{}, four, piece); },
          [&](const Removal& removal, std::size_t metal) { take_off(removal, metal, four, piece); });
    }
    for_each_change(
        route, [](const Bath&, std::size_t) {},
        [&](const Removal& removal, std::size_t metal) { thin(removal, metal, four); });
    if (press != nullptr) {
      strike(*press, piece, four);
    } else {
      leave_unstruck(piece, four);
    }
  }
  for (const Step& step : route.steps) {
    if (const auto* anneal = std::get_if<Anneal>(&step)) change_properties(*anneal, inputs, block);
    if (const auto* strike = std::get_if<Strike>(&step)) change_properties(strike->changes, inputs, block);
  }
  diffuse(route, inputs, block);
  std::ranges::fill(block.piece(Piece::weight), 1.0);
  add_up(block);
  mark_impossible(block);
}

void form(const Section& section, const Columns& inputs, CoinBlock& block) {
  const std::size_t core = section.core, count = section.layers.size();
  for (std::size_t metal = 0; metal < count; ++metal) set_properties(section.layers[metal].metal, metal, inputs, block);
  for (std::size_t lane = 0; lane < block.lanes(); lane += quad_lanes) {
    const FourPieces four{inputs, block, lane};
    Quad field = quad_of(0.0);
    for (std::size_t metal = 0; metal < count; ++metal) {
      const auto& layer = section.layers[metal];
      const Quad face = four.drawn(layer.thickness);
      field += face;
      four.put(face, metal, Of::face_thickness);
      four.put(metal == core ? quad_of(0.0) : four.drawn(layer.rim_thickness), metal, Of::rim_thickness);
    }
    const Quad diameter = four.drawn(section.diameter), rim_width = four.drawn(section.rim_width);
    const Quad up = four.drawn(section.rim_height_up), down = four.drawn(section.rim_height_down);
    leave_unstruck({diameter, field + up + down, field, quad_of(0.0)}, four);
    four.put(rim_width, Piece::rim_width);
    four.put(up, Piece::rim_height_up);
    four.put(down, Piece::rim_height_down);

    // Half a coin is a cylinder of radius and height to the core's middle, less a recess that the layers do not change;
    // a layer holds what lies between one such cylinder and the next.
    const Quad core_face = four.get(core, Of::face_thickness);
    const Quad inner = 0.5 * diameter - rim_width;
    Quad core_volume = quad_of(0.0);
    const auto wrap = [&](std::size_t layers, auto layer_from_outside, Quad rim_height) {
      Quad radius = 0.5 * diameter, height = 0.5 * core_face + rim_height;
      for (std::size_t k = 0; k < layers; ++k) height += four.get(layer_from_outside(k), Of::face_thickness);
      for (std::size_t k = 0; k < layers; ++k) {
        const std::size_t metal = layer_from_outside(k);
        const Quad face = four.get(metal, Of::face_thickness), rim = four.get(metal, Of::rim_thickness);
        four.put(pi * (radius * radius * face + rim * (2.0 * radius - rim) * (height - face)), metal, Of::volume);
        radius -= rim;
        height -= face;
      }
      core_volume += pi * (radius * radius * height - inner * inner * rim_height);
    };
    wrap(
        core, [](std::size_t k) { return k; }, up);
    wrap(
        count - 1 - core, [count](std::size_t k) { return count - 1 - k; }, down);
    four.put(core_volume, core, Of::volume);
  }
  std::ranges::fill(block.piece(Piece::weight), 1.0);
  add_up(block);
  mark_impossible(block);
}

}  // namespace mintspread::route
