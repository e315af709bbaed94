#include "engine/route/form.hpp"

#include <algorithm>
#include <numeric>
#include <variant>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/route/steps.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

// A pass leaves about the fraction (sum of the rim thicknesses) / radius of the error of the pass before. Passes end early when no lane moves
// by a bit: a lane's result is then what all passes would give, whichever lanes stand beside it.
constexpr int passes_to_fixed_point = 24;

bool depends_on_finished_piece(const Bath& bath) {
  return bath.kind == Amount::mass_fraction || bath.stage == Stage::struck;
}

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

/// The finished mass from what does not depend on it: mass = sum of the other metals / (1 - sum of the mass fractions).
/// False when no lane's mass moved by a bit.
bool set_finished_mass(const Route& route, const Columns& inputs, CoinBlock& block) {
  const auto mass = block.piece(Piece::mass);
  // Scratch until volumes are added up and relief is struck.
  const auto other = block.piece(Piece::volume);
  const auto left = block.piece(Piece::rim_width);
  const auto add = [&](std::size_t metal) {
    const auto volume = block.of(metal, Of::volume);
    const auto density = block.of(metal, Of::density);
    for (std::size_t i = 0; i < block.lanes(); ++i) other[i] += volume[i] * density[i];
  };
  std::ranges::fill(other, 0.0);
  std::ranges::fill(left, 1.0);
  add(block.construction().core);
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) {
    if (bath.kind != Amount::mass_fraction) return add(metal);
    const auto fraction = inputs[index(bath.amount)];
    const auto factor = inputs[index(bath.piece_to_piece)];
    for (std::size_t i = 0; i < block.lanes(); ++i) left[i] -= fraction[i] * factor[i];
  });
  bool changed = false;
  for (std::size_t i = 0; i < block.lanes(); ++i) {
    const double finished = other[i] / left[i];
    changed |= mass[i] != finished;
    mass[i] = finished;
  }
  return changed;
}

void plate_all(const Route& route, const Columns& inputs, CoinBlock& block) {
  cut(*find<Blank>(route), inputs, block);
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) { plate(bath, metal, inputs, block); });
}

void plate_to_fixed_point(const Route& route, const Columns& inputs, CoinBlock& block) {
  const auto* press = find<Strike>(route);
  // The bare blank starts the iteration.
  cut(*find<Blank>(route), inputs, block);
  for_each_bath(route, [&](const Bath&, std::size_t metal) { std::ranges::fill(block.of(metal, Of::volume), 0.0); });
  std::ranges::fill(block.piece(Piece::mass), 0.0);
  for (int pass = 0; pass < passes_to_fixed_point; ++pass) {
    bool changed = set_finished_mass(route, inputs, block);
    if (press != nullptr && set_thinning(*press, inputs, block)) changed = true;
    if (!changed) break;
    plate_all(route, inputs, block);
  }
}

}  // namespace

coin::Construction construction_of(const Route& route) {
  coin::Construction construction{{"blank"}, {0}, 0};
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) {
    construction.metals.push_back(bath.name);
    construction.section.insert(construction.section.begin(), metal);
    construction.section.push_back(metal);
  });
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
  expect(blank != nullptr, "a route that is formed has a blank");
  bool depends = false;
  set_properties(blank->metal, 0, inputs, block);
  for_each_bath(route, [&](const Bath& bath, std::size_t metal) {
    set_properties(bath.metal, metal, inputs, block);
    depends = depends || depends_on_finished_piece(bath);
  });
  for (const auto ratio : {Piece::face_thinning, Piece::rim_thinning, Piece::weight}) {
    std::ranges::fill(block.piece(ratio), 1.0);
  }
  if (depends) {
    plate_to_fixed_point(route, inputs, block);
  } else {
    plate_all(route, inputs, block);
  }
  for (const auto relief : {Piece::rim_width, Piece::rim_height_up, Piece::rim_height_down}) {
    std::ranges::fill(block.piece(relief), 0.0);
  }
  for (const Step& step : route.steps) {
    if (const auto* anneal = std::get_if<Anneal>(&step)) change_properties(anneal->changes, inputs, block);
    if (const auto* press = std::get_if<Strike>(&step)) strike(*press, inputs, block);
  }
  add_up(block);
  mark_impossible(block);
}

void form(const Section& section, const Columns& inputs, CoinBlock& block) {
  const std::size_t core = section.core;
  const auto diameter = block.piece(Piece::diameter);
  const auto field = block.piece(Piece::field_thickness);
  const auto thickness = block.piece(Piece::thickness);
  const auto up = block.piece(Piece::rim_height_up);
  const auto down = block.piece(Piece::rim_height_down);
  const auto rim_width = block.piece(Piece::rim_width);
  std::ranges::copy(inputs[index(section.diameter)], diameter.begin());
  std::ranges::copy(inputs[index(section.rim_width)], rim_width.begin());
  std::ranges::copy(inputs[index(section.rim_height_up)], up.begin());
  std::ranges::copy(inputs[index(section.rim_height_down)], down.begin());
  for (const auto ratio : {Piece::face_thinning, Piece::rim_thinning, Piece::weight}) {
    std::ranges::fill(block.piece(ratio), 1.0);
  }
  std::ranges::fill(field, 0.0);
  for (std::size_t metal = 0; metal < section.layers.size(); ++metal) {
    const auto& layer = section.layers[metal];
    set_properties(layer.metal, metal, inputs, block);
    const auto face = block.of(metal, Of::face_thickness);
    std::ranges::copy(inputs[index(layer.thickness)], face.begin());
    for (std::size_t i = 0; i < block.lanes(); ++i) field[i] += face[i];
    if (metal == core) {
      std::ranges::fill(block.of(metal, Of::rim_thickness), 0.0);
    } else {
      std::ranges::copy(inputs[index(layer.rim_thickness)], block.of(metal, Of::rim_thickness).begin());
    }
  }
  for (std::size_t i = 0; i < block.lanes(); ++i) thickness[i] = field[i] + up[i] + down[i];

  // Half a coin is a cylinder of radius and height to the core's middle, less a recess that the layers do not change; a
  // layer holds what lies between one such cylinder and the next.
  const auto core_volume = block.of(core, Of::volume);
  const auto core_face = block.of(core, Of::face_thickness);
  std::ranges::fill(core_volume, 0.0);
  const auto wrap = [&](bool upper, std::span<const double> rim_height) {
    for (std::size_t i = 0; i < block.lanes(); ++i) {
      double radius = 0.5 * diameter[i];
      double height = 0.5 * core_face[i] + rim_height[i];
      const std::size_t last = section.layers.size() - 1;
      const std::size_t layers = upper ? core : last - core;
      for (std::size_t k = 0; k < layers; ++k) height += block.of(upper ? k : last - k, Of::face_thickness)[i];
      for (std::size_t k = 0; k < layers; ++k) {
        const std::size_t metal = upper ? k : last - k;
        const double face = block.of(metal, Of::face_thickness)[i], rim = block.of(metal, Of::rim_thickness)[i];
        block.of(metal, Of::volume)[i] = pi * (radius * radius * face + rim * (2.0 * radius - rim) * (height - face));
        radius -= rim;
        height -= face;
      }
      const double inner = 0.5 * diameter[i] - rim_width[i];
      core_volume[i] += pi * (radius * radius * height - inner * inner * rim_height[i]);
    }
  };
  wrap(true, up);
  wrap(false, down);
  add_up(block);
  mark_impossible(block);
}

}  // namespace mintspread::route
