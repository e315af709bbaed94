#include "engine/signature/disc_state.hpp"

#include <algorithm>
#include <limits>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/materials/conductor.hpp"

namespace mintspread::signature {

namespace {

using Of = coin::CoinBlock::Of;
using Piece = coin::CoinBlock::Piece;

// Columns of a plating, of the core, of the shape and of the gaps.
enum : std::size_t { face, rim, conductivity, permeability, per_plating };
enum : std::size_t { core_conductivity, core_permeability, per_core };
enum : std::size_t { diameter, field, rim_width, height_above, height_below, per_shape };
enum : std::size_t { at_rest, opposite, per_gaps };

}  // namespace

DiscState::DiscState(const coin::Construction& construction, const Sensor& sensor, SideUp up)
    : construction_(construction), turned_(up == SideUp::reverse), rest_(sensor.slot.rest), coils_(sensor.coils) {
  expect(up != SideUp::either, "a coin lies on one of its sides");
  auto& section = construction_.section;
  if (turned_) std::ranges::reverse(section);
  const auto whole = [&](std::size_t metal) {
    return construction.joined.empty() ? metal : construction.joined[metal];
  };
  for (std::size_t& metal : section) metal = whole(metal);
  section.erase(std::ranges::unique(section).begin(), section.end());
  const auto core = std::ranges::find(section, construction_.core);
  expect(core != section.end(), "the core is part of the section");
  // From the core outwards, as they were plated.
  std::vector<std::size_t> above(section.begin(), core);
  std::ranges::reverse(above);
  const std::vector<std::size_t> below(core + 1, section.end());
  for (std::size_t depth = std::max(above.size(), below.size()); depth-- > 0;) {
    const bool has_above = depth < above.size(), has_below = depth < below.size();
    if (has_above && has_below && above[depth] == below[depth]) {
      platings_.push_back({above[depth], true, true});
      continue;
    }
    if (has_above) platings_.push_back({above[depth], true, false});
    if (has_below) platings_.push_back({below[depth], false, true});
  }
  for (const Plating& plating : platings_)
    if (std::ranges::find(metals_, plating.metal) == metals_.end()) metals_.push_back(plating.metal);
  for (const std::size_t metal : metals_) {
    auto& members = joined_.emplace_back();
    for (std::size_t each = 0; each < construction_.metals.size(); ++each)
      if (whole(each) == metal) members.push_back(each);
  }

  const auto add = [&](std::string name, double least) {
    names_.push_back(std::move(name));
    least_.push_back(least);
  };
  for (const std::size_t metal : metals_) {
    const std::string& name = construction_.metals[metal];
    add(name + ", thickness on the face", 0.0);
    add(name + ", thickness on the rim", 0.0);
    add(name + ", conductivity", 0.0);
    add(name + ", permeability", 1.0);
  }
  core_ = names_.size();
  add(construction_.metals[construction_.core] + ", conductivity", 0.0);
  add(construction_.metals[construction_.core] + ", permeability", 1.0);
  shape_ = names_.size();
  for (const char* name :
       {"diameter", "field thickness", "rim width", "rim height of the upper face", "rim height of the lower face"})
    add(name, 0.0);
  gaps_ = names_.size();
  // A recess makes up for play below 0, which a box may reach although no piece does.
  constexpr double none = std::numeric_limits<double>::lowest();
  add("play", none);
  add("gap on the other side", none);
  recess_ = names_.size();
  for (const MountedCoil& coil : coils_) add("recess of coil " + coil.name, 0.0);
}

bool DiscState::thickness_of_plating(std::size_t column) const {
  const std::size_t place = column % per_plating;
  return column < core_ && (place == face || place == rim);
}

std::size_t DiscState::of_plating(std::size_t metal) const {
  return per_plating * static_cast<std::size_t>(std::ranges::find(metals_, metal) - metals_.begin());
}

void DiscState::write(const coin::CoinBlock& coins, const SlotColumns& slot, std::span<const std::uint8_t> reversed,
                      std::span<const std::span<const double>> recess, Columns& out) const {
  expect(out.count() == count() && out.lanes() == coins.lanes() && recess.size() == coils_.size(),
         "DiscState::write: one column a number, one recess a coil");
  const auto copy = [&](std::span<const double> from, std::size_t to) { std::ranges::copy(from, out[to].begin()); };
  const auto warm = [&](std::size_t metal, std::size_t to) {
    const auto at_20 = coins.of(metal, Of::conductivity), alpha = coins.of(metal, Of::temperature_coefficient);
    for (std::size_t lane = 0; lane < out.lanes(); ++lane)
      out[to][lane] = materials::conductivity_at(at_20[lane], alpha[lane], slot.temperature[lane]);
  };
  for (std::size_t i = 0; i < metals_.size(); ++i) {
    const std::size_t metal = metals_[i], first = per_plating * i;
    copy(coins.of(metal, Of::face_thickness), first + face);
    copy(coins.of(metal, Of::rim_thickness), first + rim);
    warm(metal, first + conductivity);
    copy(coins.of(metal, Of::permeability), first + permeability);
    if (joined_[i].size() > 1) join(joined_[i], coins, slot, first, out);
  }
  warm(construction_.core, core_ + core_conductivity);
  copy(coins.of(construction_.core, Of::permeability), core_ + core_permeability);
  copy(coins.piece(Piece::diameter), shape_ + diameter);
  copy(coins.piece(Piece::field_thickness), shape_ + field);
  copy(coins.piece(Piece::rim_width), shape_ + rim_width);
  copy(coins.piece(turned_ ? Piece::rim_height_down : Piece::rim_height_up), shape_ + height_above);
  copy(coins.piece(turned_ ? Piece::rim_height_up : Piece::rim_height_down), shape_ + height_below);
  copy(slot.play, gaps_ + at_rest);
  const auto thickness = coins.piece(Piece::thickness);
  for (std::size_t lane = 0; lane < out.lanes(); ++lane) {
    out[gaps_ + opposite][lane] = slot.width[lane] - slot.play[lane] - thickness[lane];
    if (!reversed.empty() && reversed[lane] != 0)
      std::swap(out[shape_ + height_above][lane], out[shape_ + height_below][lane]);
  }
  for (std::size_t coil = 0; coil < coils_.size(); ++coil) copy(recess[coil], recess_ + coil);
}

/// Thicknesses add up; conductance and permeance along the layer are those of all sublayers.
void DiscState::join(std::span<const std::size_t> metals, const coin::CoinBlock& coins, const SlotColumns& slot,
                     std::size_t first, Columns& out) const {
  for (std::size_t lane = 0; lane < out.lanes(); ++lane) {
    double across = 0.0, on_rim = 0.0, conductance = 0.0, permeance = 0.0;
    for (const std::size_t metal : metals) {
      const auto of = [&](Of what) { return coins.of(metal, what)[lane]; };
      const double thickness = of(Of::face_thickness);
      across += thickness;
      on_rim += of(Of::rim_thickness);
      conductance += thickness * materials::conductivity_at(of(Of::conductivity), of(Of::temperature_coefficient),
                                                            slot.temperature[lane]);
      permeance += thickness * of(Of::permeability);
    }
    out[first + face][lane] = across;
    out[first + rim][lane] = on_rim;
    if (across == 0.0) continue;  // the first one's metal stands for nothing
    out[first + conductivity][lane] = conductance / across;
    out[first + permeability][lane] = permeance / across;
  }
}

PlacedDisc DiscState::place(std::span<const double> state) const {
  expect(state.size() == count(), "a number a column");
  PlacedDisc placed{{state[shape_ + diameter],
                     state[shape_ + field],
                     state[shape_ + rim_width],
                     state[shape_ + height_above],
                     state[shape_ + height_below],
                     {state[core_ + core_conductivity], state[core_ + core_permeability]},
                     {}},
                    {}};
  for (const Plating& plating : platings_) {
    const auto of = state.subspan(of_plating(plating.metal), per_plating);
    const double above = plating.up ? of[face] : 0.0, below = plating.down ? of[face] : 0.0;
    placed.disc.layers.push_back({above, below, of[rim], above, below, {of[conductivity], of[permeability]}});
  }
  for (std::size_t coil = 0; coil < coils_.size(); ++coil) {
    const bool near = (rest_ == Rest::above) == (coils_[coil].side == Side::above);
    placed.coils.push_back(
        {coils_[coil].coil, coils_[coil].side, state[gaps_ + (near ? at_rest : opposite)] + state[recess_ + coil]});
  }
  return placed;
}

std::vector<std::complex<double>> DiscState::slopes(const DiscGradient& gradient) const {
  std::vector<std::complex<double>> by(count());
  for (std::size_t i = 0; i < platings_.size(); ++i) {
    const DiscGradient::Layer& layer = gradient.layers[i];
    const std::size_t first = of_plating(platings_[i].metal);
    if (platings_[i].up) by[first + face] += layer.face_up + layer.rim_top_up;
    if (platings_[i].down) by[first + face] += layer.face_down + layer.rim_top_down;
    by[first + rim] += layer.rim;
    by[first + conductivity] += layer.metal.conductivity;
    by[first + permeability] += layer.metal.permeability;
  }
  by[core_ + core_conductivity] = gradient.core.conductivity;
  by[core_ + core_permeability] = gradient.core.permeability;
  by[shape_ + diameter] = gradient.diameter;
  by[shape_ + field] = gradient.field_thickness;
  by[shape_ + rim_width] = gradient.rim_width;
  by[shape_ + height_above] = gradient.rim_height_up;
  by[shape_ + height_below] = gradient.rim_height_down;
  for (std::size_t coil = 0; coil < coils_.size(); ++coil) {
    const bool near = (rest_ == Rest::above) == (coils_[coil].side == Side::above);
    by[gaps_ + (near ? at_rest : opposite)] += gradient.gaps[coil];
    by[recess_ + coil] = gradient.gaps[coil];
  }
  return by;
}

double DiscState::to_field(std::span<const double> state, std::size_t coil) const {
  const bool above = coils_[coil].side == Side::above;
  const bool near = (rest_ == Rest::above) == above;
  return state[gaps_ + (near ? at_rest : opposite)] + state[recess_ + coil] +
         state[shape_ + (above ? height_above : height_below)];
}

DiscState::Flat DiscState::flat(std::span<const double> state, std::size_t drive, std::size_t receive) const {
  Flat stack{{}, {}, {}, to_field(state, drive) + to_field(state, receive)};
  std::size_t core = 0;
  double platings = 0.0;
  for (const std::size_t metal : construction_.section) {
    if (metal == construction_.core) {
      core = stack.thickness.size();
      stack.thickness.push_back(0.0);
      stack.conductivity.push_back(state[core_ + core_conductivity]);
      stack.permeability.push_back(state[core_ + core_permeability]);
      continue;
    }
    const auto of = state.subspan(of_plating(metal), per_plating);
    platings += of[face];
    stack.thickness.push_back(of[face]);
    stack.conductivity.push_back(of[conductivity]);
    stack.permeability.push_back(of[permeability]);
  }
  stack.thickness[core] = state[shape_ + field] - platings;
  if (coils_[drive].side == Side::below)
    for (auto* column : {&stack.thickness, &stack.conductivity, &stack.permeability}) std::ranges::reverse(*column);
  return stack;
}

}  // namespace mintspread::signature
