#include "engine/route/steps.hpp"

#include <algorithm>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/route/diffusion.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

void set_properties(const Metal& metal, std::size_t position, const Columns& inputs, CoinBlock& block) {
  const auto copy = [&](InputId from, Of to) {
    std::ranges::copy(inputs[index(from)], block.of(position, to).begin());
  };
  copy(metal.conductivity, Of::conductivity);
  copy(metal.permeability, Of::permeability);
  copy(metal.density, Of::density);
  copy(metal.temperature_coefficient, Of::temperature_coefficient);
}

namespace {

/// Temperature of the pieces at heat and the time of it, in one lane.
double temperature_of(const Anneal& anneal, const Columns& inputs, std::size_t lane) {
  const double furnace = inputs[index(anneal.temperature)][lane];
  return anneal.place ? furnace + inputs[index(*anneal.place)][lane] : furnace;
}

CurvePoint on_curve(const std::vector<CurvePoint>& curve, double temperature) {
  const auto above = std::ranges::find_if(curve, [&](const CurvePoint& p) { return p.temperature >= temperature; });
  if (above == curve.begin()) return curve.front();
  if (above == curve.end()) return curve.back();
  const CurvePoint &from = *(above - 1), &to = *above;
  const double part = (temperature - from.temperature) / (to.temperature - from.temperature);
  return {temperature, std::lerp(from.conductivity, to.conductivity, part),
          std::lerp(from.permeability, to.permeability, part)};
}

void multiply(std::span<double> values, std::span<const double> factors) {
  for (std::size_t lane = 0; lane < values.size(); lane += quad_lanes)
    store_quad(load_quad(values, lane) * load_quad(factors, lane), values, lane);
}

/// What the drawn factors become by the heat of a lane.
CurvePoint factors_in(const PropertyChange& change, const Anneal& anneal, const Columns& inputs, std::size_t lane) {
  const double temperature = temperature_of(anneal, inputs, lane);
  CurvePoint made{temperature, inputs[index(change.conductivity_factor)][lane],
                  inputs[index(change.permeability_factor)][lane]};
  if (change.softening) {
    const double dose = dose_of(change.softening->rate, anneal, temperature, inputs[index(anneal.time)][lane]);
    const double done = change.softening->done(dose);
    made.conductivity = 1.0 + (made.conductivity - 1.0) * done;
    made.permeability = 1.0 + (made.permeability - 1.0) * done;
  }
  if (!change.curve.empty()) {
    const CurvePoint curve = on_curve(change.curve, temperature);
    made.conductivity *= curve.conductivity;
    made.permeability *= curve.permeability;
  }
  return made;
}

void change_properties(std::span<const PropertyChange> changes, const Anneal* anneal, const Columns& inputs,
                       CoinBlock& block) {
  const auto& metals = block.construction().metals;
  for (const PropertyChange& change : changes) {
    for (std::size_t metal = 0; metal < metals.size(); ++metal) {
      if (metals[metal] != change.of) continue;
      const auto conductivity = block.of(metal, Of::conductivity), permeability = block.of(metal, Of::permeability);
      if (!change.softening && change.curve.empty()) {
        multiply(conductivity, inputs[index(change.conductivity_factor)]);
        multiply(permeability, inputs[index(change.permeability_factor)]);
        continue;
      }
      for (std::size_t lane = 0; lane < conductivity.size(); ++lane) {
        const CurvePoint factors = factors_in(change, *anneal, inputs, lane);
        conductivity[lane] *= factors.conductivity;
        permeability[lane] *= factors.permeability;
      }
    }
  }
}

}  // namespace

void change_properties(std::span<const PropertyChange> changes, const Columns& inputs, CoinBlock& block) {
  change_properties(changes, nullptr, inputs, block);
}

void change_properties(const Anneal& anneal, const Columns& inputs, CoinBlock& block) {
  change_properties(anneal.changes, &anneal, inputs, block);
}

Cylinder cut(const Blank& blank, const FourPieces& four) {
  const std::size_t core = four.block.construction().core;
  const Quad diameter = four.drawn(blank.diameter), thickness = four.drawn(blank.thickness);
  four.put(thickness, core, Of::face_thickness);
  four.put(quad_of(0.0), core, Of::rim_thickness);
  four.put(pi / 4.0 * diameter * diameter * thickness, core, Of::volume);
  return {diameter, thickness, thickness, pi * diameter * (0.5 * diameter + thickness)};
}

namespace {

// Errors of 1e-4, 1e-16 for a layer of a hundredth of the blank; of 0.5, 5e-2, 3e-5, 1e-14 for one two thirds as thick
// as the blank and twenty times thicker on the rim.
constexpr int steps_from_zero = 4;

}  // namespace

Quad deposited(const Electrolysis& bath, std::size_t position, const FourPieces& four, const Cylinder& piece) {
  const Quad charge = four.drawn(bath.efficiency) * four.drawn(bath.current) * four.drawn(bath.time);
  const Quad share = piece.bare_surface / (four.drawn(bath.filling) * bath.surface_of_one);
  return charge / (bath.charge_for_mass * four.get(position, Of::density)) * share;
}

void take_off(const Removal& removal, std::size_t position, const FourPieces& four, Cylinder& piece) {
  const Quad face = four.drawn(removal.thickness), rim = face * four.drawn(removal.rim_to_face);
  const Quad smaller = piece.diameter - 2.0 * rim;
  const Quad off = pi / 4.0 * (2.0 * face * smaller * smaller + 4.0 * rim * (piece.diameter - rim) * piece.thickness);
  four.put(four.get(position, Of::volume) - off, position, Of::volume);
  piece.diameter = smaller;
  piece.thickness -= 2.0 * face;
  piece.through_middle -= 2.0 * face;
}

void thin(const Removal& removal, std::size_t position, const FourPieces& four) {
  const Quad face = four.drawn(removal.thickness), rim = face * four.drawn(removal.rim_to_face);
  const bool core = position == four.block.construction().core;
  four.put(four.get(position, Of::face_thickness) - (core ? 2.0 * face : face), position, Of::face_thickness);
  if (!core) four.put(four.get(position, Of::rim_thickness) - rim, position, Of::rim_thickness);
}

QuadMask has_settled(Quad from, Quad to) {
  const Quad moved = to - from, least = settled_to * to;
  return (moved <= least) & (-moved <= least);
}

QuadMask plate(const Bath& bath, std::size_t position, const Finished& finished, const FourPieces& four,
               Cylinder& piece) {
  const Quad rim_to_face = four.drawn(bath.rim_to_face), mean_to_centre = four.drawn(bath.mean_to_centre);
  const Quad d = piece.diameter, t = piece.thickness;
  const Quad before = four.get(position, Of::face_thickness);
  Quad centre = four.drawn(bath.piece_to_piece);
  // The volume between the cylinders, 4/pi times, is the rising, convex cubic c (linear + c (square + c cube)) of the
  // thickness c. Halley's method, the step of a hyperbola that touches the cubic twice, cubes the error.
  const auto step_towards = [&](Quad from, Quad wanted) {
    const Quad linear = d * (4.0 * rim_to_face * t + 2.0 * mean_to_centre * d);
    const Quad square = rim_to_face * (8.0 * mean_to_centre * d + 4.0 * rim_to_face * t);
    const Quad cube = 8.0 * rim_to_face * rim_to_face * mean_to_centre;
    const Quad left = wanted * (4.0 / pi) - from * (linear + from * (square + from * cube));
    const Quad slope = linear + from * (2.0 * square + from * 3.0 * cube), half_bend = square + from * 3.0 * cube;
    return from + left * slope / (slope * slope + left * half_bend);
  };
  if (bath.kind == Amount::mass_fraction) {
    centre = step_towards(before, centre * four.drawn(bath.amount) * finished.mass / four.get(position, Of::density));
  } else if (bath.kind == Amount::charge || bath.kind == Amount::mass) {
    const Quad wanted = centre * (bath.kind == Amount::mass ? four.drawn(bath.amount) / four.get(position, Of::density)
                                                            : deposited(*bath.electrolysis, position, four, piece));
    centre = quad_of(0.0);
    for (int step = 0; step < steps_from_zero; ++step) centre = step_towards(centre, wanted);
  } else {
    centre *= four.drawn(bath.amount);
    if (bath.kind == Amount::areal_mass) centre /= four.get(position, Of::density);
    if (bath.statistic == Statistic::local_minimum) centre /= four.drawn(bath.minimum_to_mean);
    if (bath.place == Place::face_mean) centre /= mean_to_centre;
    if (bath.place == Place::rim) centre /= rim_to_face;
    if (bath.stage == Stage::struck)
      centre /= bath.place == Place::rim ? finished.rim_thinning : finished.face_thinning;
  }
  centre = finished.settled ? before : centre;

  const Quad rim = rim_to_face * centre, mean = mean_to_centre * centre;
  const Quad grown = d + 2.0 * rim;
  four.put(centre, position, Of::face_thickness);
  four.put(rim, position, Of::rim_thickness);
  four.put(pi / 4.0 * (2.0 * mean * grown * grown + 4.0 * rim * (d + rim) * t), position, Of::volume);
  piece.diameter = grown;
  piece.thickness = t + 2.0 * mean;
  piece.through_middle += 2.0 * centre;
  return has_settled(before, centre);
}

Thinning thinning(const Strike& strike, const Cylinder& piece, const FourPieces& four) {
  const Quad across = piece.diameter / four.drawn(strike.collar);
  return {across * across, across * (piece.thickness / four.drawn(strike.rim_thickness))};
}

void strike(const Strike& strike, const Cylinder& piece, const FourPieces& four) {
  const auto& construction = four.block.construction();
  const Thinning ratio = thinning(strike, piece, four);
  Quad volume = quad_of(0.0), plating = quad_of(0.0);
  for (std::size_t metal = 0; metal < construction.metals.size(); ++metal) {
    volume += four.get(metal, Of::volume);
    if (metal == construction.core) continue;
    const Quad face = four.get(metal, Of::face_thickness) * ratio.face;
    plating += 2.0 * face;
    four.put(face, metal, Of::face_thickness);
    four.put(four.get(metal, Of::rim_thickness) * ratio.rim, metal, Of::rim_thickness);
  }
  const Quad diameter = four.drawn(strike.collar), thickness = four.drawn(strike.rim_thickness);
  const Quad rim_width = four.drawn(strike.rim_width);
  const Quad outer = 0.5 * diameter, inner = outer - rim_width;
  const Quad recess = (pi * outer * outer * thickness - volume) / (pi * inner * inner);
  const Quad stated_up = four.drawn(strike.rim_height_up), stated = stated_up + four.drawn(strike.rim_height_down);
  const Quad up = (stated != 0.0 ? stated_up / stated : quad_of(0.5)) * recess;
  const Quad field = thickness - recess;
  four.put(diameter, Piece::diameter);
  four.put(thickness, Piece::thickness);
  four.put(field, Piece::field_thickness);
  four.put(rim_width, Piece::rim_width);
  four.put(up, Piece::rim_height_up);
  four.put(recess - up, Piece::rim_height_down);
  four.put(ratio.face, Piece::face_thinning);
  four.put(ratio.rim, Piece::rim_thinning);
  four.put(field - plating, construction.core, Of::face_thickness);
}

void leave_unstruck(const Cylinder& piece, const FourPieces& four) {
  four.put(piece.diameter, Piece::diameter);
  four.put(piece.thickness, Piece::thickness);
  four.put(piece.through_middle, Piece::field_thickness);
  for (const auto relief : {Piece::rim_width, Piece::rim_height_up, Piece::rim_height_down})
    four.put(quad_of(0.0), relief);
  for (const auto ratio : {Piece::face_thinning, Piece::rim_thinning}) four.put(quad_of(1.0), ratio);
}

}  // namespace mintspread::route
