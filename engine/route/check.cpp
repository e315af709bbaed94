#include "engine/route/check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <variant>

#include "engine/base/constants.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "engine/route/check_order.hpp"
#include "engine/route/diffusion.hpp"
#include "engine/route/form.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

/// The charge of a bath against the thickness stated beside it, in the nominal piece before anything is taken off.
void compare_statements(const Route& route, const Columns& nominal, NominalCheck& check) {
  // Nothing in the trade holds a layer's mean to better than some 5 % (common practice).
  constexpr double worth_telling = 0.05;
  Route plated;
  plated.boundaries = route.boundaries;
  for (const Step& step : route.steps) {
    if (!std::holds_alternative<Removal>(step)) plated.steps.push_back(step);
  }
  CoinBlock block(construction_of(plated), nominal.lanes());
  form(plated, nominal, block);
  const Blank& blank = std::get<Blank>(route.steps.front());
  const double d = check.value(blank.diameter), surface = pi * d * (0.5 * d + check.value(blank.thickness));
  std::size_t position = 0;
  for (const Step& step : plated.steps) {
    const auto* bath = std::get_if<Bath>(&step);
    if (bath == nullptr) continue;
    ++position;
    if (!bath->electrolysis || bath->kind == Amount::charge) continue;
    const Electrolysis& by = *bath->electrolysis;
    const double area = check.value(by.filling) * by.surface_of_one;
    const double charged = check.value(by.efficiency) * check.value(by.current) * check.value(by.time) /
                           (by.charge_for_mass * check.value(bath->metal.density) * area);
    const double stated = block.of(position, Of::volume)[0] / surface;
    if (std::abs(charged / stated - 1.0) <= worth_telling) continue;
    const double agreeing = check.value(by.efficiency) * stated / charged;
    check.warn(path_of(*bath) + ".thickness",
               fmt::format("current, time, efficiency and filled area deposit {:.2f} um on average over the blank, the "
                           "stated thickness is {:.2f} um there: {:+.1f} %; the stated one is computed",
                           in_um(charged), in_um(stated), (charged / stated - 1.0) * 100.0),
               agreeing <= 1.0 ? fmt::format("An efficiency of {:.1f} % would agree with it; or leave one of the two "
                                             "statements out.",
                                             agreeing * 100.0)
                               : fmt::format("It takes {:.2f} times the charge, even at 100 %; or leave one of the two "
                                             "statements out.",
                                             agreeing));
  }
}

/// What is taken off against what lies there, in the nominal piece.
void check_removals(const Route& route, const CoinBlock& block, NominalCheck& check) {
  std::size_t position = 0;
  for (const Step& step : route.steps) {
    if (std::holds_alternative<Bath>(step)) ++position;
    const auto* removal = std::get_if<Removal>(&step);
    if (removal == nullptr || position == 0) continue;
    const double face = block.of(position, Of::face_thickness)[0], rim = block.of(position, Of::rim_thickness)[0];
    if (face > 0.0 && rim >= 0.0) continue;
    check.problem(removal->name + ".thickness",
                  fmt::format("it takes {:.2f} um off the face, which is through the layer \"{}\" {}",
                              in_um(check.value(removal->thickness)), block.construction().metals[position],
                              face > 0.0 ? "on the rim" : "on the face"),
                  "Take off less than the outermost layer.");
  }
}

/// The nominal layers against what their diffusion data say, and against the depths that diffusion reaches.
void check_blur(const Route& route, const Blur& blur, const Columns& nominal, const CoinBlock& sharp,
                NominalCheck& check) {
  using materials::BlurredBoundary;
  // Handbooks differ by less about a pure metal.
  constexpr double better_than_pure = 1.25, not_magnetic = 1.01;
  const materials::DiffusionPair& pair = blur.boundary->pair();
  const auto& names = sharp.construction().metals;
  const std::string step = path_of(std::get<Anneal>(route.steps[blur.first_anneal])), path = step + ".temperature";

  const double conductivity_slow = sharp.of(blur.slow(), Of::conductivity)[0],
               conductivity_quick = sharp.of(blur.quick(), Of::conductivity)[0];
  const auto compare = [&](std::size_t layer, const std::string& element, double conductivity, double pure) {
    if (conductivity * pure <= better_than_pure) return;
    check.problem(step,
                  fmt::format("the layer \"{}\" conducts {:.3g} MS/m at 20 degC, but pure {} {:.3g} MS/m by the "
                              "resistivities of {}-{}",
                              names[layer], conductivity * 1e-6, element, 1e-6 / pure, pair.slow, pair.quick),
                  "Check the units of both.");
  };
  compare(blur.slow(), pair.slow, conductivity_slow, pair.resistivities.front());
  compare(blur.quick(), pair.quick, conductivity_quick, pair.resistivities.back());
  const double of_slow = sharp.of(blur.slow(), Of::permeability)[0],
               of_quick = sharp.of(blur.quick(), Of::permeability)[0];
  if (of_quick > not_magnetic) {
    check.problem(step,
                  fmt::format("the layer \"{}\" is magnetic (relative permeability {:.4g}), and {}, in which the other "
                              "metal diffuses more quickly, may not be here",
                              names[blur.quick()], of_quick, pair.quick),
                  "State a permeability of 1, or that the boundary is sealed.");
  }
  if (of_slow > not_magnetic && pair.magnetic_until == 0.0) {
    check.problem(
        step,
        fmt::format("the layer \"{}\" is magnetic (relative permeability {:.4g}), but the data on {} and {} do "
                    "not say up to which part of {} it stays so",
                    names[blur.slow()], of_slow, pair.slow, pair.quick, pair.quick),
        fmt::format("Add it to the pair, by `first magnetic up to` or `second magnetic up to`, whichever {} is.",
                    pair.slow));
  }

  const Heat heat = heat_of(route, blur, nominal, 0);
  const double thinning = sharp.piece(Piece::face_thinning)[0];
  const auto depth = [&](std::size_t metal, double share) {
    return share * sharp.of(metal, Of::face_thickness)[0] / thinning;
  };
  // What diffuses a few nanometres has no ratio that matters.
  if (heat.in_slow < BlurredBoundary::least_ratio * heat.in_quick && std::sqrt(heat.in_quick) > 1e-8) {
    check.problem(path,
                  fmt::format("{0} diffuses in {1} {2:.2g} times as quickly as {1} in {0} here; up to {3:.0f} times is "
                              "computed",
                              pair.slow, pair.quick, heat.in_quick / heat.in_slow, 1.0 / BlurredBoundary::least_ratio),
                  "State a hotter anneal, or that the boundary is sealed.");
  }
  const double reach = BlurredBoundary::slow_reach(heat.in_quick, heat.in_slow);
  const double slow = depth(blur.slow(), blur.slow_share), quick = depth(blur.quick(), blur.quick_share);
  if (reach > slow) {
    check.problem(path,
                  fmt::format("{} diffuses {:.2f} um deep into the layer \"{}\", which is {:.2f} um there: through it, "
                              "which this version does not compute",
                              pair.quick, in_um(reach), names[blur.slow()], in_um(slow)),
                  "State a colder or shorter anneal, or a thicker layer.");
  }
  if (std::sqrt(heat.in_quick) > BlurredBoundary::most_spread * quick) {
    check.problem(
        path,
        fmt::format("the {} of the layer \"{}\" is all but mixed: {} diffuses some {:.2f} um into {:.2f} um of "
                    "it",
                    pair.quick, names[blur.quick()], pair.slow, in_um(2.0 * std::sqrt(heat.in_quick)), in_um(quick)),
        "State a colder or shorter anneal, or a thicker layer.");
  }
  if (!check.clean()) return;
  BlurredBoundary::Profile profile;
  if (!blur.boundary->diffuse(heat.in_quick, heat.in_slow, quick, profile)) {
    check.problem(
        path,
        fmt::format("so much {} diffuses into the {:.2f} um of {} in the layer \"{}\" that {} is magnetic up to "
                    "there, which this version does not compute",
                    pair.slow, in_um(quick), pair.quick, names[blur.quick()], pair.slow),
        "State a colder or shorter anneal, or a thicker layer.");
  }
}

/// Nominal piece up to the strike: the layers against the blank and the collar.
void check_plated(const Route& route, const CoinBlock& block, NominalCheck& check) {
  std::size_t position = 1;
  double plating = 0.0;
  for (const Step& step : route.steps) {
    if (const auto* bath = std::get_if<Bath>(&step)) {
      plating += 2.0 * block.of(position++, Of::face_thickness)[0] / block.piece(Piece::face_thinning)[0];
      const double blank = check.value(std::get<Blank>(route.steps.front()).thickness);
      if (plating >= blank) {
        check.problem(
            path_of(*bath) + ".thickness",
            fmt::format(
                "the layers are thicker than the blank: {:.1f} um on both faces together on a strip of {:.1f} um",
                in_um(plating), in_um(blank)),
            "Check the unit.");
        return;
      }
    }
  }
}

void check_struck(const Strike& strike, const Blank& blank, const CoinBlock& block, NominalCheck& check) {
  const double collar = check.value(strike.collar), radius = 0.5 * collar;
  const double rim_thickness = check.value(strike.rim_thickness);
  const double width = check.value(strike.rim_width), inner = radius - width;
  const double volume = block.piece(Piece::volume)[0];
  const double plated_diameter = collar * std::sqrt(block.piece(Piece::face_thinning)[0]);
  const double field_area = pi * inner * inner;
  const double recess = (pi * radius * radius * rim_thickness - volume) / field_area;
  const double blank_area = pi / 4.0 * check.value(blank.diameter) * check.value(blank.diameter);
  // Strip that would leave the given total rim height.
  const auto strip_for = [&](double height) {
    return check.value(blank.thickness) + (recess - height) * field_area / blank_area;
  };
  const double stated = check.value(strike.rim_height_up) + check.value(strike.rim_height_down);

  if (plated_diameter > collar) {
    check.problem("strike.collar",
                  fmt::format("the plated piece, {:.3f} mm, does not enter the collar, {:.3f} mm",
                              in_mm(plated_diameter), in_mm(collar)),
                  "Widen the collar or cut a smaller blank.");
  }
  if (recess < 0.0) {
    check.problem(
        "strike.rim thickness",
        fmt::format("the piece holds {:.2f} mm3, the closed collar {:.2f} mm3: the press cannot close to {:.3f} mm",
                    volume * 1e9, pi * radius * radius * rim_thickness * 1e9, in_mm(rim_thickness)),
        fmt::format("Take strip of {:.3f} mm for the stated rim heights, or a thicker rim.", in_mm(strip_for(stated))));
  } else if (recess >= rim_thickness) {
    check.problem("strike.rim thickness",
                  fmt::format("the piece holds {:.2f} mm3, the rim alone takes {:.2f} mm3: no field is left",
                              volume * 1e9, pi * (radius * radius - inner * inner) * rim_thickness * 1e9),
                  fmt::format("Take strip of {:.3f} mm for the stated rim heights, or a narrower or thinner rim.",
                              in_mm(strip_for(stated))));
  } else if (std::abs(recess - stated) > std::max(0.1 * stated, 10e-6)) {
    check.warn(
        "strike.rim height",
        fmt::format(
            "up and down are stated as {:.3f} mm together, conserved volume leaves {:.3f} mm between rim and field; "
            "the stated heights only split it between the faces",
            in_mm(stated), in_mm(recess)),
        fmt::format("Strip of {:.3f} mm would agree with them.", in_mm(strip_for(stated))));
  }
}

}  // namespace

void check(const Route& route, const Columns& nominal, std::vector<Problem>& problems, std::vector<Problem>& warnings) {
  NominalCheck check(nominal, problems, warnings);
  check_order(route, check);
  if (!check.clean()) return;
  Route sharp_route = route;
  for (Step& step : sharp_route.steps) {
    if (auto* anneal = std::get_if<Anneal>(&step)) anneal->diffusion = false;
  }
  CoinBlock sharp(construction_of(sharp_route), nominal.lanes());
  form(sharp_route, nominal, sharp);
  check_removals(route, sharp, check);
  if (check.clean()) check_plated(route, sharp, check);
  if (check.clean()) {
    const Blurs blurs = blurs_of(route);
    for (std::size_t i = 0; i < blurs.count; ++i) check_blur(route, blurs.all[i], nominal, sharp, check);
  }
  if (!check.clean()) return;
  compare_statements(sharp_route, nominal, check);
  CoinBlock block(construction_of(route), nominal.lanes());
  form(route, nominal, block);
  for (const Step& step : route.steps) {
    if (const auto* strike = std::get_if<Strike>(&step)) {
      check_struck(*strike, std::get<Blank>(route.steps.front()), block, check);
    }
  }
  if (check.clean() && !(block.piece(Piece::diameter)[0] > 0.0)) {
    check.problem("route", "the nominal piece cannot be made", "Check the dimensions of blank, baths and strike.");
  }
}

}  // namespace mintspread::route
