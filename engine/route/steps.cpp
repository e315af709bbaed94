#include "engine/route/steps.hpp"

#include <algorithm>

#include "engine/base/constants.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

std::span<const double> column(const Columns& inputs, InputId id) { return inputs[index(id)]; }

void multiply(std::span<double> values, std::span<const double> by) {
  for (std::size_t i = 0; i < values.size(); ++i) values[i] *= by[i];
}

void divide(std::span<double> values, std::span<const double> by) {
  for (std::size_t i = 0; i < values.size(); ++i) values[i] /= by[i];
}

/// Replaces volumes by the face-centre thickness that fills them on a cylinder. The volume is a convex, rising cubic of
/// the thickness; Newton's method from its tangent at zero stays above the root and doubles its digits each time, from
/// 2 at the start.
void thickness_from_volume(std::span<double> values, std::span<const double> diameter,
                           std::span<const double> thickness, std::span<const double> rim_to_face,
                           std::span<const double> mean_to_centre) {
  constexpr int newton_steps = 5;
  for (std::size_t i = 0; i < values.size(); ++i) {
    const double d = diameter[i], t = thickness[i], rim = rim_to_face[i], mean = mean_to_centre[i];
    const double wanted = values[i] * (4.0 / pi);
    const double linear = 4.0 * rim * d * t + 2.0 * mean * d * d;
    const double square = 8.0 * rim * mean * d + 4.0 * rim * rim * t;
    const double cube = 8.0 * rim * rim * mean;
    double c = wanted / linear;
    for (int step = 0; step < newton_steps; ++step) {
      const double volume = c * (linear + c * (square + c * cube));
      c -= (volume - wanted) / (linear + c * (2.0 * square + c * 3.0 * cube));
    }
    values[i] = c;
  }
}

}  // namespace

void set_properties(const Metal& metal, std::size_t position, const Columns& inputs, CoinBlock& block) {
  std::ranges::copy(column(inputs, metal.conductivity), block.of(position, Of::conductivity).begin());
  std::ranges::copy(column(inputs, metal.permeability), block.of(position, Of::permeability).begin());
  std::ranges::copy(column(inputs, metal.density), block.of(position, Of::density).begin());
  std::ranges::copy(column(inputs, metal.temperature_coefficient),
                    block.of(position, Of::temperature_coefficient).begin());
}

void cut(const Blank& blank, const Columns& inputs, CoinBlock& block) {
  const std::size_t core = block.construction().core;
  const auto strip = column(inputs, blank.thickness);
  const auto rimmed = column(inputs, blank.diameter);
  std::ranges::copy(rimmed, block.piece(Piece::diameter).begin());
  std::ranges::copy(strip, block.piece(Piece::thickness).begin());
  std::ranges::copy(strip, block.piece(Piece::field_thickness).begin());
  std::ranges::copy(strip, block.of(core, Of::face_thickness).begin());
  std::ranges::fill(block.of(core, Of::rim_thickness), 0.0);
  const auto volume = block.of(core, Of::volume);
  for (std::size_t i = 0; i < block.lanes(); ++i) volume[i] = pi / 4.0 * rimmed[i] * rimmed[i] * strip[i];
}

void plate(const Bath& bath, std::size_t position, const Columns& inputs, CoinBlock& block) {
  const auto centre = block.of(position, Of::face_thickness);
  const auto rim = block.of(position, Of::rim_thickness);
  const auto volume = block.of(position, Of::volume);
  const auto diameter = block.piece(Piece::diameter);
  const auto thickness = block.piece(Piece::thickness);
  const auto field = block.piece(Piece::field_thickness);
  const auto density = block.of(position, Of::density);
  const auto rim_to_face = column(inputs, bath.rim_to_face);
  const auto mean_to_centre = column(inputs, bath.mean_to_centre);

  std::ranges::copy(column(inputs, bath.amount), centre.begin());
  multiply(centre, column(inputs, bath.piece_to_piece));
  if (bath.kind == Amount::mass_fraction) {
    multiply(centre, block.piece(Piece::mass));
    divide(centre, density);
    thickness_from_volume(centre, diameter, thickness, rim_to_face, mean_to_centre);
  } else {
    if (bath.kind == Amount::areal_mass) divide(centre, density);
    if (bath.statistic == Statistic::local_minimum) divide(centre, column(inputs, bath.minimum_to_mean));
    if (bath.place == Place::face_mean) divide(centre, mean_to_centre);
    if (bath.place == Place::rim) divide(centre, rim_to_face);
    if (bath.stage == Stage::struck) {
      divide(centre, block.piece(bath.place == Place::rim ? Piece::rim_thinning : Piece::face_thinning));
    }
  }

  for (std::size_t i = 0; i < block.lanes(); ++i) {
    const double d = diameter[i], t = thickness[i];
    const double r = rim_to_face[i] * centre[i], mean = mean_to_centre[i] * centre[i];
    const double grown = d + 2.0 * r;
    rim[i] = r;
    volume[i] = pi / 4.0 * (2.0 * mean * grown * grown + 4.0 * r * (d + r) * t);
    diameter[i] = grown;
    thickness[i] = t + 2.0 * mean;
    field[i] += 2.0 * centre[i];
  }
}

void change_properties(std::span<const PropertyChange> changes, const Columns& inputs, CoinBlock& block) {
  const auto& metals = block.construction().metals;
  for (const PropertyChange& change : changes) {
    for (std::size_t metal = 0; metal < metals.size(); ++metal) {
      if (metals[metal] != change.of) continue;
      multiply(block.of(metal, Of::conductivity), column(inputs, change.conductivity_factor));
      multiply(block.of(metal, Of::permeability), column(inputs, change.permeability_factor));
    }
  }
}

bool set_thinning(const Strike& strike, const Columns& inputs, CoinBlock& block) {
  bool changed = false;
  const auto collar = column(inputs, strike.collar);
  const auto pressed = column(inputs, strike.rim_thickness);
  const auto diameter = block.piece(Piece::diameter);
  const auto thickness = block.piece(Piece::thickness);
  const auto face = block.piece(Piece::face_thinning);
  const auto rim = block.piece(Piece::rim_thinning);
  for (std::size_t i = 0; i < block.lanes(); ++i) {
    const double across = diameter[i] / collar[i];
    const double face_ratio = across * across, rim_ratio = across * (thickness[i] / pressed[i]);
    changed |= face[i] != face_ratio || rim[i] != rim_ratio;
    face[i] = face_ratio;
    rim[i] = rim_ratio;
  }
  return changed;
}

void strike(const Strike& strike, const Columns& inputs, CoinBlock& block) {
  set_thinning(strike, inputs, block);
  add_up(block);
  const std::size_t core = block.construction().core;
  const auto core_thickness = block.of(core, Of::face_thickness);
  const auto field = block.piece(Piece::field_thickness);
  const auto volume = block.piece(Piece::volume);
  const auto up = block.piece(Piece::rim_height_up);
  const auto down = block.piece(Piece::rim_height_down);
  std::ranges::copy(column(inputs, strike.collar), block.piece(Piece::diameter).begin());
  std::ranges::copy(column(inputs, strike.rim_thickness), block.piece(Piece::thickness).begin());
  std::ranges::copy(column(inputs, strike.rim_width), block.piece(Piece::rim_width).begin());
  const auto diameter = block.piece(Piece::diameter);
  const auto thickness = block.piece(Piece::thickness);
  const auto rim_width = block.piece(Piece::rim_width);
  const auto stated_up = column(inputs, strike.rim_height_up);
  const auto stated_down = column(inputs, strike.rim_height_down);
  for (std::size_t i = 0; i < block.lanes(); ++i) {
    const double outer = 0.5 * diameter[i], inner = outer - rim_width[i];
    const double recess = (pi * outer * outer * thickness[i] - volume[i]) / (pi * inner * inner);
    const double stated = stated_up[i] + stated_down[i];
    const double share = stated != 0.0 ? stated_up[i] / stated : 0.5;
    field[i] = thickness[i] - recess;
    up[i] = share * recess;
    down[i] = recess - up[i];
    core_thickness[i] = field[i];
  }
  for (std::size_t metal = 0; metal < block.construction().metals.size(); ++metal) {
    if (metal == core) continue;
    const auto face = block.of(metal, Of::face_thickness);
    multiply(face, block.piece(Piece::face_thinning));
    multiply(block.of(metal, Of::rim_thickness), block.piece(Piece::rim_thinning));
    for (std::size_t i = 0; i < block.lanes(); ++i) core_thickness[i] -= 2.0 * face[i];
  }
  change_properties(strike.changes, inputs, block);
}

}  // namespace mintspread::route
