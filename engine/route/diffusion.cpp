#include "engine/route/diffusion.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <variant>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/materials/blurred_boundary.hpp"
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
  double slow_face = 0.0, quick_face = 0.0, slow_rim = 0.0, quick_rim = 0.0;
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

Heat heat_of(const materials::DiffusionPair& pair, const Anneal& anneal, double temperature, double time) {
  return {dose_of(pair.in_quick, anneal, temperature, time), dose_of(pair.in_slow, anneal, temperature, time)};
}

std::string_view element_of(const Metal& metal) {
  for (const auto& one : metal.composition) {
    if (one.part >= 0.98) return one.element;
  }
  return {};
}

const BlurredBoundary* boundary_of(const Route& route, std::string_view one, std::string_view other) {
  for (const auto& stated : route.boundaries) {
    if (stated->pair().is_of(one, other)) return stated.get();
  }
  const BlurredBoundary& built_in = BlurredBoundary::of_copper_and_nickel();
  return built_in.pair().is_of(one, other) ? &built_in : nullptr;
}

Meeting meeting_of(const Route& route, const Metal& one, const Metal& other) {
  const auto first = element_of(one), second = element_of(other);
  if (!first.empty() && first == second) return Meeting::alike;
  if (boundary_of(route, first, second) != nullptr) return Meeting::blurs;
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
    const auto inside = element_of(*before);
    const auto* boundary = boundary_of(route, inside, element_of(bath->metal));
    if (first < route.steps.size() && boundary != nullptr && blurs.count < Blurs::most) {
      Blur& blur = blurs.all[blurs.count];
      blur = {position - 1, first, inside == boundary->pair().quick, metals + blurs.count * cells, 1.0, 1.0, boundary};
      // The core has the boundary on both its faces.
      if (position == 1) (blur.quick_inside ? blur.quick_share : blur.slow_share) = 0.5;
      ++blurs.count;
    }
    before = &bath->metal;
  }
  for (std::size_t i = 0; i + 1 < blurs.count; ++i) {
    Blur &one = blurs.all[i], &next = blurs.all[i + 1];
    if (one.inner + 1 != next.inner) continue;
    (one.quick_inside ? one.slow_share : one.quick_share) = 0.5;
    (next.quick_inside ? next.quick_share : next.slow_share) = 0.5;
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
        const std::size_t from_inside = blur.quick_inside ? cells - 1 - cell : cell;
        outwards.push_back(blur.first_sublayer + from_inside);
      }
    }
    outwards.push_back(inner + 1);
  }
  for (std::size_t metal = 0; metal < layers; ++metal) construction.joined.push_back(metal);
  for (std::size_t i = 0; i < blurs.count; ++i) {
    const std::size_t inner = blurs.all[i].inner;
    for (std::size_t cell = 0; cell < cells; ++cell) {
      // To the disc the magnetic ones are one layer.
      construction.joined.push_back(blurs.all[i].first_sublayer + (cell < BlurredBoundary::magnetic_cells ? 0 : cell));
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
    const Heat heat = heat_of(blur.boundary->pair(), anneal, inputs[index(anneal.temperature)][lane] + place,
                              inputs[index(anneal.time)][lane]);
    sum.in_quick += heat.in_quick;
    sum.in_slow += heat.in_slow;
  });
  return sum;
}

void diffuse(const Route& route, const Columns& inputs, CoinBlock& block) {
  const Blurs blurs = blurs_of(route);
  if (blurs.count == 0) return;
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
    const BlurredBoundary* boundary_before = nullptr;
    Heat heat_before;
    double depth_before = -1.0;
    for (std::size_t i = 0; i < blurs.count; ++i) {
      const Blur& blur = blurs.all[i];
      const std::size_t quick = blur.quick(), slow = blur.slow();
      const double thin = face_thinning[lane];
      const Heat heat = heat_of(route, blur, inputs, lane);
      const double depth = blur.quick_share * get(quick, Of::face_thickness) / thin;
      // Both boundaries of one quick layer look the same unless the anneals of one are not those of the other.
      bool fits = blur.boundary == boundary_before && heat == heat_before && depth == depth_before;
      if (!fits) fits = blur.boundary->diffuse(heat.in_quick, heat.in_slow, depth, profile);
      boundary_before = blur.boundary;
      heat_before = heat;
      depth_before = fits ? depth : -1.0;
      fits = fits && blur.boundary->cut(profile, blur.slow_share * get(slow, Of::face_thickness) / thin,
                                        properties(slow), properties(quick), sublayers);
      if (!fits) {
        block.piece(Piece::diameter)[lane] = std::numeric_limits<double>::quiet_NaN();
        sublayers.fill({0.0, 0.0, properties(quick)});
      }
      const auto rim_scale = [&](std::size_t metal) {
        return rim_thinning[lane] * std::min(1.0, get(metal, Of::rim_thickness) / rim_thinning[lane] * thin /
                                                      get(metal, Of::face_thickness));
      };
      const double slow_rim = rim_scale(slow), quick_rim = rim_scale(quick);
      for (std::size_t cell = 0; cell < cells; ++cell) {
        const Sublayer& made = sublayers[cell];
        const std::size_t metal = blur.first_sublayer + cell;
        const double slow_face = made.of_slow * thin, quick_face = made.of_quick * thin;
        const double rim_of_slow = made.of_slow * slow_rim, rim_of_quick = made.of_quick * quick_rim;
        block.of(metal, Of::face_thickness)[lane] = slow_face + quick_face;
        block.of(metal, Of::rim_thickness)[lane] = rim_of_slow + rim_of_quick;
        block.of(metal, Of::volume)[lane] = 0.0;
        block.of(metal, Of::density)[lane] = get(made.of_quick > made.of_slow ? quick : slow, Of::density);
        block.of(metal, Of::conductivity)[lane] = made.metal.conductivity;
        block.of(metal, Of::permeability)[lane] = made.metal.permeability;
        block.of(metal, Of::temperature_coefficient)[lane] = made.metal.temperature_coefficient;
        taken[i].slow_face += slow_face;
        taken[i].quick_face += quick_face;
        taken[i].slow_rim += rim_of_slow;
        taken[i].quick_rim += rim_of_quick;
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
      take(blur.slow(), Of::face_thickness, faces(blur.slow()) * taken[i].slow_face);
      take(blur.quick(), Of::face_thickness, faces(blur.quick()) * taken[i].quick_face);
      take(blur.slow(), Of::rim_thickness, taken[i].slow_rim);
      take(blur.quick(), Of::rim_thickness, taken[i].quick_rim);
    }
  }
}

}  // namespace mintspread::route
