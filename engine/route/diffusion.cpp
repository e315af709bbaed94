#include "engine/route/diffusion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <variant>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/materials/copper_nickel.hpp"
#include "engine/materials/interdiffusion.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using materials::BlurredBoundary;
using materials::Properties;
using materials::Sublayer;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

constexpr std::size_t cells = BlurredBoundary::cells;

/// What the sublayers of one boundary take from the layers beside it, m.
struct Taken {
  double nickel_face = 0.0, copper_face = 0.0, nickel_rim = 0.0, copper_rim = 0.0;
};

bool sealed(const Anneal& anneal, std::string_view outer) {
  return std::ranges::find(anneal.sealed_under, outer) != anneal.sealed_under.end();
}

/// Calls `visit(position of the step, anneal)` for the anneals that heat the boundary under the bath `outer`.
template <class Visit>
void for_each_heating(const Route& route, std::size_t outer, Visit visit) {
  std::size_t position = 0;
  std::string_view name;
  for (std::size_t step = 0; step < route.steps.size(); ++step) {
    if (const auto* bath = std::get_if<Bath>(&route.steps[step])) {
      if (++position == outer) name = bath->name;
    }
    const auto* anneal = std::get_if<Anneal>(&route.steps[step]);
    if (anneal && anneal->diffusion && position >= outer && !sealed(*anneal, name)) visit(step, *anneal);
  }
}

}  // namespace

double dose_of(const materials::Arrhenius& rate, const Anneal& anneal, double temperature, double time) {
  double dose = rate.at(temperature) * time;
  const double rise = temperature - anneal.coldest;
  for (const Ramp& ramp : anneal.ramps) {
    dose += rate.over_ramp(anneal.coldest + rise * ramp.from, anneal.coldest + rise * ramp.to, ramp.duration);
  }
  return dose;
}

Heat heat_of(const Anneal& anneal, double temperature, double time) {
  return {dose_of(materials::nickel_in_copper, anneal, temperature, time),
          dose_of(materials::copper_in_nickel, anneal, temperature, time)};
}

std::string_view element_of(const Metal& metal) {
  for (const auto& one : metal.composition) {
    if (one.part >= 0.98) return one.element;
  }
  return {};
}

Meeting meeting_of(const Metal& one, const Metal& other) {
  const auto first = element_of(one), second = element_of(other);
  if (!first.empty() && first == second) return Meeting::alike;
  if ((first == "Cu" && second == "Ni") || (first == "Ni" && second == "Cu")) return Meeting::blurs;
  return first.empty() && second.empty() && one.name == other.name ? Meeting::alike : Meeting::unknown;
}

Blurs blurs_of(const Route& route) {
  Blurs blurs;
  std::size_t metals = 1;
  for (const Step& step : route.steps)
    if (std::holds_alternative<Bath>(step)) ++metals;
  const Metal* before = nullptr;
  std::size_t position = 0;
  for (const Step& step : route.steps) {
    const auto* blank = std::get_if<Blank>(&step);
    const auto* bath = std::get_if<Bath>(&step);
    if (blank) before = &blank->metal;
    if (!bath || !before) continue;
    ++position;
    std::size_t first = route.steps.size();
    for_each_heating(route, position, [&](std::size_t at, const Anneal&) { first = std::min(first, at); });
    if (first < route.steps.size() && meeting_of(*before, bath->metal) == Meeting::blurs && blurs.count < Blurs::most) {
      Blur& blur = blurs.all[blurs.count];
      blur = {position - 1, first, element_of(*before) == "Cu", metals + blurs.count * cells, 1.0, 1.0};
      // The core has the boundary on both its faces.
      if (position == 1) (blur.copper_inside ? blur.copper_share : blur.nickel_share) = 0.5;
      ++blurs.count;
    }
    before = &bath->metal;
  }
  for (std::size_t i = 0; i + 1 < blurs.count; ++i) {
    Blur &one = blurs.all[i], &next = blurs.all[i + 1];
    if (one.inner + 1 != next.inner) continue;
    (one.copper_inside ? one.nickel_share : one.copper_share) = 0.5;
    (next.copper_inside ? next.copper_share : next.nickel_share) = 0.5;
  }
  return blurs;
}

void add_sublayers(const Route& route, coin::Construction& construction) {
  const Blurs blurs = blurs_of(route);
  if (blurs.count == 0) return;
  std::vector<std::size_t> outwards = {0};
  const std::size_t layers = construction.metals.size();
  for (std::size_t inner = 0; inner + 1 < layers; ++inner) {
    for (std::size_t i = 0; i < blurs.count; ++i) {
      const Blur& blur = blurs.all[i];
      if (blur.inner != inner) continue;
      for (std::size_t cell = 0; cell < cells; ++cell) {
        const std::size_t from_inside = blur.copper_inside ? cells - 1 - cell : cell;
        outwards.push_back(blur.first_sublayer + from_inside);
      }
    }
    outwards.push_back(inner + 1);
  }
  for (std::size_t metal = 0; metal < layers; ++metal) construction.joined.push_back(metal);
  for (std::size_t i = 0; i < blurs.count; ++i) {
    const std::size_t inner = blurs.all[i].inner;
    for (std::size_t cell = 0; cell < cells; ++cell) {
      constexpr std::size_t not_magnetic = BlurredBoundary::magnetic_cells;
      construction.joined.push_back(blurs.all[i].first_sublayer + (cell < not_magnetic ? 0 : not_magnetic));
      construction.metals.push_back(
          fmt::format("{} into {}, {}", construction.metals[inner], construction.metals[inner + 1], cell + 1));
    }
  }
  construction.section.assign(outwards.rbegin(), outwards.rend());
  construction.section.insert(construction.section.end(), outwards.begin() + 1, outwards.end());
}

Heat heat_of(const Route& route, const Blur& blur, const Columns& inputs, std::size_t lane) {
  Heat sum;
  for_each_heating(route, blur.inner + 1, [&](std::size_t, const Anneal& anneal) {
    const double place = anneal.place ? inputs[index(*anneal.place)][lane] : 0.0;
    const Heat heat =
        heat_of(anneal, inputs[index(anneal.temperature)][lane] + place, inputs[index(anneal.time)][lane]);
    sum.in_copper += heat.in_copper;
    sum.in_nickel += heat.in_nickel;
  });
  return sum;
}

void diffuse(const Route& route, const Columns& inputs, CoinBlock& block) {
  const Blurs blurs = blurs_of(route);
  if (blurs.count == 0) return;
  const auto& boundary = BlurredBoundary::usual();
  const auto face_thinning = block.piece(Piece::face_thinning), rim_thinning = block.piece(Piece::rim_thinning);
  for (std::size_t lane = 0; lane < block.lanes(); ++lane) {
    const auto get = [&](std::size_t metal, Of what) { return block.of(metal, what)[lane]; };
    const auto properties = [&](std::size_t metal) {
      return Properties{get(metal, Of::conductivity), get(metal, Of::permeability),
                        get(metal, Of::temperature_coefficient)};
    };
    // Boundaries share layers: what each may take is counted from the whole layer.
    std::array<Taken, Blurs::most> taken{};
    std::array<Sublayer, cells> sublayers{};
    BlurredBoundary::Profile profile;
    Heat heat_before;
    double depth_before = -1.0;
    for (std::size_t i = 0; i < blurs.count; ++i) {
      const Blur& blur = blurs.all[i];
      const std::size_t copper = blur.copper(), nickel = blur.nickel();
      const double thin = face_thinning[lane];
      const Heat heat = heat_of(route, blur, inputs, lane);
      const double depth = blur.copper_share * get(copper, Of::face_thickness) / thin;
      // Both boundaries of one copper layer look the same unless the anneals of one are not those of the other.
      bool fits = heat == heat_before && depth == depth_before;
      if (!fits) fits = boundary.diffuse(heat.in_copper, heat.in_nickel, depth, profile);
      heat_before = heat;
      depth_before = fits ? depth : -1.0;
      fits = fits && boundary.cut(profile, blur.nickel_share * get(nickel, Of::face_thickness) / thin,
                                  properties(nickel), properties(copper), sublayers);
      if (!fits) {
        block.piece(Piece::diameter)[lane] = std::numeric_limits<double>::quiet_NaN();
        sublayers.fill({0.0, 0.0, properties(copper)});
      }
      const auto rim_scale = [&](std::size_t metal) {
        return rim_thinning[lane] * std::min(1.0, get(metal, Of::rim_thickness) / rim_thinning[lane] * thin /
                                                      get(metal, Of::face_thickness));
      };
      const double nickel_rim = rim_scale(nickel), copper_rim = rim_scale(copper);
      for (std::size_t cell = 0; cell < cells; ++cell) {
        const Sublayer& made = sublayers[cell];
        const std::size_t metal = blur.first_sublayer + cell;
        const double nickel_face = made.of_nickel * thin, copper_face = made.of_copper * thin;
        const double rim_of_nickel = made.of_nickel * nickel_rim, rim_of_copper = made.of_copper * copper_rim;
        block.of(metal, Of::face_thickness)[lane] = nickel_face + copper_face;
        block.of(metal, Of::rim_thickness)[lane] = rim_of_nickel + rim_of_copper;
        block.of(metal, Of::volume)[lane] = 0.0;
        block.of(metal, Of::density)[lane] = get(made.of_copper > made.of_nickel ? copper : nickel, Of::density);
        block.of(metal, Of::conductivity)[lane] = made.metal.conductivity;
        block.of(metal, Of::permeability)[lane] = made.metal.permeability;
        block.of(metal, Of::temperature_coefficient)[lane] = made.metal.temperature_coefficient;
        taken[i].nickel_face += nickel_face;
        taken[i].copper_face += copper_face;
        taken[i].nickel_rim += rim_of_nickel;
        taken[i].copper_rim += rim_of_copper;
      }
    }
    // A layer that is all blurred may be left with a rounding below nothing.
    const auto take = [&](std::size_t metal, Of what, double by) {
      double& left = block.of(metal, what)[lane];
      left = by > left && by < left * (1.0 + 1e-9) ? 0.0 : left - by;
    };
    for (std::size_t i = 0; i < blurs.count; ++i) {
      const Blur& blur = blurs.all[i];
      const auto faces = [&](std::size_t metal) { return metal == block.construction().core ? 2.0 : 1.0; };
      take(blur.nickel(), Of::face_thickness, faces(blur.nickel()) * taken[i].nickel_face);
      take(blur.copper(), Of::face_thickness, faces(blur.copper()) * taken[i].copper_face);
      take(blur.nickel(), Of::rim_thickness, taken[i].nickel_rim);
      take(blur.copper(), Of::rim_thickness, taken[i].copper_rim);
    }
  }
}

}  // namespace mintspread::route
