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

constexpr std::size_t cells = BlurredBoundary::nickel_cells + BlurredBoundary::copper_cells;

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
      // What is not magnetic any more has the last sublayer of the nickel's side.
      constexpr std::size_t not_magnetic = BlurredBoundary::nickel_cells - 1;
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
    std::array<std::array<double, 4>, Blurs::most> taken{};
    for (std::size_t i = 0; i < blurs.count; ++i) {
      const Blur& blur = blurs.all[i];
      const std::size_t copper = blur.copper(), nickel = blur.nickel();
      const Heat heat = heat_of(route, blur, inputs, lane);
      std::array<Sublayer, cells> sublayers{};
      const double thin = face_thinning[lane];
      const bool fits =
          boundary.fill(heat.in_copper, heat.in_nickel, blur.copper_share * get(copper, Of::face_thickness) / thin,
                        blur.nickel_share * get(nickel, Of::face_thickness) / thin, properties(nickel),
                        properties(copper), sublayers);
      if (!fits) block.piece(Piece::diameter)[lane] = std::numeric_limits<double>::quiet_NaN();
      const auto rim_scale = [&](std::size_t metal) {
        return rim_thinning[lane] * std::min(1.0, get(metal, Of::rim_thickness) / rim_thinning[lane] * thin /
                                                      get(metal, Of::face_thickness));
      };
      const double nickel_rim = rim_scale(nickel), copper_rim = rim_scale(copper);
      for (std::size_t cell = 0; cell < cells; ++cell) {
        const bool of_nickel = cell < BlurredBoundary::nickel_cells;
        const std::size_t metal = blur.first_sublayer + cell;
        const Sublayer made = fits ? sublayers[cell] : Sublayer{0.0, properties(copper)};
        const double face = made.thickness * thin, rim = made.thickness * (of_nickel ? nickel_rim : copper_rim);
        block.of(metal, Of::face_thickness)[lane] = face;
        block.of(metal, Of::rim_thickness)[lane] = rim;
        block.of(metal, Of::volume)[lane] = 0.0;
        block.of(metal, Of::density)[lane] = get(of_nickel ? nickel : copper, Of::density);
        block.of(metal, Of::conductivity)[lane] = made.metal.conductivity;
        block.of(metal, Of::permeability)[lane] = made.metal.permeability;
        block.of(metal, Of::temperature_coefficient)[lane] = made.metal.temperature_coefficient;
        taken[i][of_nickel ? 0 : 1] += face;
        taken[i][of_nickel ? 2 : 3] += rim;
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
      take(blur.nickel(), Of::face_thickness, faces(blur.nickel()) * taken[i][0]);
      take(blur.copper(), Of::face_thickness, faces(blur.copper()) * taken[i][1]);
      take(blur.nickel(), Of::rim_thickness, taken[i][2]);
      take(blur.copper(), Of::rim_thickness, taken[i][3]);
    }
  }
}

}  // namespace mintspread::route
