#include "engine/route/check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <variant>

#include "engine/base/constants.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/materials/copper_nickel.hpp"
#include "engine/route/diffusion.hpp"
#include "engine/route/form.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Of = CoinBlock::Of;
using Piece = CoinBlock::Piece;

namespace {

// Copper melts at 1084.6 C (from memory); a mint's furnace keeps well below.
constexpr double hottest_plated_anneal = celsius_zero + 1050.0;
constexpr double always_diffuses = celsius_zero + 600.0;

double in_mm(double length) { return length * 1e3; }
double in_um(double length) { return length * 1e6; }

class Check {
 public:
  Check(const Columns& nominal, std::vector<Problem>& problems, std::vector<Problem>& warnings)
      : nominal_(nominal), problems_(problems), warnings_(warnings) {}

  double value(InputId id) const { return nominal_[index(id)][0]; }
  void problem(std::string path, std::string what, std::string remedy) {
    problems_.push_back({std::move(path), std::move(what), std::move(remedy)});
    clean_ = false;
  }
  void warn(std::string path, std::string what, std::string remedy) {
    warnings_.push_back({std::move(path), std::move(what), std::move(remedy)});
  }
  bool clean() const { return clean_; }

  void positive(InputId id, const std::string& path, const char* what) {
    if (!(value(id) > 0.0)) problem(path, fmt::format("{} must be above zero", what), "State a positive value.");
  }
  void not_negative(InputId id, const std::string& path, const char* what) {
    if (!(value(id) >= 0.0)) problem(path, fmt::format("{} must not be negative", what), "State zero or more.");
  }
  void metal(const Metal& metal, const std::string& path) {
    not_negative(metal.conductivity, path + ".conductivity", "a conductivity");
    positive(metal.permeability, path + ".permeability", "a relative permeability");
    positive(metal.density, path + ".density", "a density");
  }

 private:
  const Columns& nominal_;
  std::vector<Problem>& problems_;
  std::vector<Problem>& warnings_;
  bool clean_ = true;
};

std::string path_of(const Bath& bath) { return "bath." + bath.name; }
std::string path_of(const Anneal& anneal) {
  return anneal.name.empty() || anneal.name == "anneal" ? "anneal" : "anneal." + anneal.name;
}

void check_changes(const std::vector<PropertyChange>& changes, const std::string& path,
                   const std::set<std::string>& on_piece, Check& check) {
  for (const PropertyChange& change : changes) {
    const std::string of = path + ".changes." + change.of;
    if (on_piece.count(change.of) == 0) {
      check.problem(of, fmt::format("\"{}\" is not on the piece when this step is reached", change.of),
                    fmt::format("Name one of: {}.", fmt::join(on_piece, ", ")));
    }
    check.positive(change.conductivity_factor, of + ".conductivity", "a factor");
    check.positive(change.permeability_factor, of + ".permeability", "a factor");
  }
}

void check_electrolysis(const Electrolysis& electrolysis, const std::string& path, Check& check) {
  check.positive(electrolysis.current, path + ".current", "a current");
  check.positive(electrolysis.time, path + ".time", "a time");
  check.positive(electrolysis.efficiency, path + ".efficiency", "a cathode efficiency");
  check.positive(electrolysis.filling, path + ".current", "the filled area of the load");
  if (check.value(electrolysis.efficiency) > 1.0) {
    check.problem(path + ".efficiency", "a cathode efficiency cannot exceed 100 %",
                  "State the part that deposits metal.");
  }
}

void check_bath(const Bath& bath, bool struck, Check& check) {
  const std::string path = path_of(bath);
  check.metal(bath.metal, path);
  if (bath.kind != Amount::charge) check.positive(bath.amount, path + ".thickness", "a layer's thickness");
  if (bath.electrolysis) check_electrolysis(*bath.electrolysis, path, check);
  check.positive(bath.piece_to_piece, path + ".piece to piece", "the factor from piece to piece");
  check.positive(bath.mean_to_centre, path + ".mean to centre", "the ratio of face mean to face centre");
  if (bath.place == Place::rim) {
    check.positive(bath.rim_to_face, path + ".rim to face", "the rim to face ratio of a layer stated at the rim");
  } else {
    check.not_negative(bath.rim_to_face, path + ".rim to face", "the ratio of rim to face");
  }
  if (bath.statistic == Statistic::local_minimum && bath.kind != Amount::mass_fraction) {
    check.positive(bath.minimum_to_mean, path + ".minimum to mean", "the ratio of local minimum to mean");
    if (check.value(bath.minimum_to_mean) > 1.0) {
      check.problem(path + ".minimum to mean", "a local minimum cannot exceed the mean", "State a ratio up to 1.");
    }
  }
  if (bath.kind == Amount::mass_fraction &&
      (bath.place != Place::face_centre || bath.stage != Stage::as_plated || bath.statistic != Statistic::mean)) {
    check.warn(
        path + ".thickness",
        "a part of the mass has no place, stage or statistic: the whole layer is meant, before and after the strike",
        "");
  }
  if (bath.stage == Stage::struck && bath.kind != Amount::mass_fraction && !struck) {
    check.problem(path + ".thickness", "the thickness is stated as struck, but the route has no strike",
                  "State `stage: as plated`, or add a strike.");
  }
}

/// What lies on the piece, from the inside.
struct Layer {
  std::string name;
  const Metal* metal;
};

/// What a metal is called where its data are missing.
std::string called(const Layer& layer) {
  const auto element = element_of(*layer.metal);
  return fmt::format("{} ({})", layer.metal->name, element.empty() ? "an alloy" : element);
}

/// An anneal of a plated piece: whether every boundary's behaviour is known.
void check_heat(const Anneal& anneal, const std::vector<Layer>& metals, bool struck, Check& check) {
  const double temperature = check.value(anneal.temperature);
  const std::string path = path_of(anneal);
  if (temperature > hottest_plated_anneal) {
    check.problem(path + ".temperature",
                  fmt::format("a plated piece is annealed at {:.0f} degC, near the melting point of copper",
                              temperature - celsius_zero),
                  "State a temperature up to 1050 degC.");
  }
  if (!anneal.diffusion && temperature > always_diffuses) {
    check.problem(path + ".diffusion",
                  fmt::format("at {:.0f} degC, above 600 degC, the layers of a plated piece diffuse into each other",
                              temperature - celsius_zero),
                  "Leave `diffusion: left out` out.");
  }
  if (!anneal.diffusion) return;
  if (struck) {
    check.problem(path, "a struck piece whose layers diffuse is not computed in this version",
                  "Put the anneal before the strike.");
  }
  std::size_t boundaries = 0;
  for (std::size_t i = 1; i < metals.size(); ++i) {
    const bool sealed =
        std::find(anneal.sealed_under.begin(), anneal.sealed_under.end(), metals[i].name) != anneal.sealed_under.end();
    const Meeting meeting = meeting_of(*metals[i - 1].metal, *metals[i].metal);
    if (sealed) continue;
    if (meeting == Meeting::blurs && ++boundaries > Blurs::most) {
      check.problem(path, fmt::format("more than {} boundaries of copper and nickel", Blurs::most),
                    "State some of them as sealed.");
    }
    if (meeting != Meeting::unknown) continue;
    check.problem(
        path,
        fmt::format("there are no data on how {} and {}, the layers \"{}\" and \"{}\", diffuse into each other; "
                    "known are copper and nickel",
                    called(metals[i - 1]), called(metals[i]), metals[i - 1].name, metals[i].name),
        fmt::format(
            "Where the boundary stays sharp enough, state `sealed under: [{}]`; or anneal before that bath, or at "
            "600 degC at most. A pair is added by its two dilute coefficients and the resistivity of its alloys "
            "(engine/materials/copper_nickel.hpp).",
            metals[i].name));
  }
  for (const std::string& name : anneal.sealed_under) {
    if (std::any_of(metals.begin() + 1, metals.end(), [&](const Layer& layer) { return layer.name == name; })) continue;
    check.problem(path + ".sealed under", fmt::format("\"{}\" is no layer on the piece at this step", name),
                  "Name the baths whose inner boundary stays sharp.");
  }
}

/// Order, names and single values; the piece itself only makes sense when these do.
void check_steps(const Route& route, Check& check) {
  const bool struck = std::any_of(route.steps.begin(), route.steps.end(),
                                  [](const Step& step) { return std::holds_alternative<Strike>(step); });
  if (route.steps.empty() || !std::holds_alternative<Blank>(route.steps.front())) {
    check.problem("route", "a route begins with its blank", "Put the step `blank` first.");
  }
  std::set<std::string> on_piece;
  bool has_blank = false, has_struck = false;
  double fractions = 0.0;
  const Bath* outermost = nullptr;
  std::vector<Layer> metals;
  for (const Step& step : route.steps) {
    if (const auto* blank = std::get_if<Blank>(&step)) {
      if (has_blank) check.problem("blank", "a route has one blank", "Remove the second.");
      has_blank = true;
      on_piece.insert("blank");
      metals.push_back({"blank", &blank->metal});
      check.metal(blank->metal, "blank");
      check.positive(blank->thickness, "blank.thickness", "the strip's thickness");
      check.positive(blank->diameter, "blank.rimmed diameter", "the rimmed diameter");
    } else if (const auto* bath = std::get_if<Bath>(&step)) {
      if (has_struck) {
        check.problem(path_of(*bath), "a struck piece is not plated in this version",
                      "Put the strike after the baths.");
      }
      if (!on_piece.insert(bath->name).second) {
        check.problem(path_of(*bath), fmt::format("the name \"{}\" is taken by a step before it", bath->name),
                      "Give each bath its own name.");
      }
      check_bath(*bath, struck, check);
      outermost = bath;
      metals.push_back({bath->name, &bath->metal});
      if (bath->kind == Amount::mass_fraction) {
        fractions += check.value(bath->amount);
        if (fractions >= 1.0) {
          check.problem(path_of(*bath) + ".thickness", "the layers would be all of the finished piece's mass",
                        "State fractions that leave a core.");
        }
      }
    } else if (const auto* removal = std::get_if<Removal>(&step)) {
      check.not_negative(removal->thickness, removal->name + ".thickness", "what is taken off");
      check.not_negative(removal->rim_to_face, removal->name + ".rim to face", "the ratio of rim to face");
      if (has_struck) {
        check.problem(removal->name, "a struck piece is not pickled or burnished in this version",
                      "Put the strike after it.");
      }
      if (outermost != nullptr && (outermost->kind == Amount::mass_fraction || outermost->stage == Stage::struck)) {
        check.problem(removal->name,
                      fmt::format("it takes off the layer \"{}\", which is stated as {}", outermost->name,
                                  outermost->kind == Amount::mass_fraction ? "a share of the finished piece's mass"
                                                                           : "it is after the strike"),
                      "State that layer's thickness as plated.");
      }
    } else if (const auto* anneal = std::get_if<Anneal>(&step)) {
      check.positive(anneal->temperature, path_of(*anneal) + ".temperature", "a temperature");
      check.not_negative(anneal->time, path_of(*anneal) + ".time", "a time");
      check_changes(anneal->changes, path_of(*anneal), on_piece, check);
      if (on_piece.size() > 1) check_heat(*anneal, metals, has_struck, check);
    } else if (const auto* strike = std::get_if<Strike>(&step)) {
      if (has_struck) check.problem("strike", "a route has one strike", "Remove the second.");
      has_struck = true;
      check.positive(strike->collar, "strike.collar", "the collar's diameter");
      check.positive(strike->rim_thickness, "strike.rim thickness", "the rim-to-rim thickness");
      check.positive(strike->rim_width, "strike.rim width", "the rim's width");
      check.not_negative(strike->rim_height_up, "strike.rim height.up", "a rim height");
      check.not_negative(strike->rim_height_down, "strike.rim height.down", "a rim height");
      if (2.0 * check.value(strike->rim_width) >= check.value(strike->collar)) {
        check.problem("strike.rim width",
                      fmt::format("the rim ({:.3f} mm) reaches the middle of the coin, whose radius is {:.3f} mm",
                                  in_mm(check.value(strike->rim_width)), in_mm(check.value(strike->collar)) / 2),
                      "State the width of the rim ring, some 1 mm.");
      }
      check_changes(strike->changes, "strike", on_piece, check);
    }
  }
}

/// The charge of a bath against the thickness stated beside it, in the nominal piece before anything is taken off.
void compare_statements(const Route& route, const Columns& nominal, Check& check) {
  // Nothing in the trade holds a layer's mean to better than some 5 % (common practice).
  constexpr double worth_telling = 0.05;
  Route plated;
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
void check_removals(const Route& route, const CoinBlock& block, Check& check) {
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

/// The nominal layers against the depths that diffusion reaches.
void check_blurs(const Route& route, const Columns& nominal, const CoinBlock& sharp, Check& check) {
  using materials::BlurredBoundary;
  const Blurs blurs = blurs_of(route);
  for (std::size_t i = 0; i < blurs.count; ++i) {
    const Blur& blur = blurs.all[i];
    const Heat heat = heat_of(route, blur, nominal, 0);
    const double thinning = sharp.piece(Piece::face_thinning)[0];
    const auto depth = [&](std::size_t metal, double share) {
      return share * sharp.of(metal, Of::face_thickness)[0] / thinning;
    };
    const auto& names = sharp.construction().metals;
    const std::string path = path_of(std::get<Anneal>(route.steps[blur.first_anneal])) + ".temperature";
    const double reach = BlurredBoundary::nickel_reach * std::sqrt(heat.in_nickel);
    const double nickel = depth(blur.nickel(), blur.nickel_share), copper = depth(blur.copper(), blur.copper_share);
    if (reach > nickel) {
      check.problem(
          path,
          fmt::format("copper diffuses {:.2f} um deep into the layer \"{}\", which is {:.2f} um there: through it, "
                      "which this version does not compute",
                      in_um(reach), names[blur.nickel()], in_um(nickel)),
          "State a colder or shorter anneal, or a thicker layer.");
    }
    if (std::sqrt(heat.in_copper) > BlurredBoundary::most_spread * copper) {
      check.problem(path,
                    fmt::format("the copper of the layer \"{}\" is all but mixed: nickel diffuses some {:.2f} um into "
                                "{:.2f} um of it",
                                names[blur.copper()], in_um(2.0 * std::sqrt(heat.in_copper)), in_um(copper)),
                    "State a colder or shorter anneal, or a thicker layer.");
    }
  }
}

/// Nominal piece up to the strike: the layers against the blank and the collar.
void check_plated(const Route& route, const CoinBlock& block, Check& check) {
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

void check_struck(const Strike& strike, const Blank& blank, const CoinBlock& block, Check& check) {
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
  Check check(nominal, problems, warnings);
  check_steps(route, check);
  if (!check.clean()) return;
  Route sharp_route = route;
  for (Step& step : sharp_route.steps) {
    if (auto* anneal = std::get_if<Anneal>(&step)) anneal->diffusion = false;
  }
  CoinBlock sharp(construction_of(sharp_route), nominal.lanes());
  form(sharp_route, nominal, sharp);
  check_removals(route, sharp, check);
  if (check.clean()) check_plated(route, sharp, check);
  if (check.clean()) check_blurs(route, nominal, sharp, check);
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

void check(const Section& section, const Columns& nominal, std::vector<Problem>& problems,
           std::vector<Problem>& warnings) {
  Check check(nominal, problems, warnings);
  if (section.layers.empty() || section.core >= section.layers.size()) {
    check.problem("section.layers", "a section has layers, and one of them is the core",
                  "List the layers from the upper face down.");
    return;
  }
  std::set<std::string> names;
  double rim = 0.0;
  for (std::size_t k = 0; k < section.layers.size(); ++k) {
    const auto& layer = section.layers[k];
    const std::string path = "section.layers." + layer.name;
    if (!names.insert(layer.name).second) {
      check.problem(path, fmt::format("the name \"{}\" is taken by a layer before it", layer.name),
                    "Give each layer its own name.");
    }
    check.metal(layer.metal, path);
    check.positive(layer.thickness, path + ".thickness", "a layer's thickness");
    if (k == section.core) {
      rim = 0.0;
      continue;
    }
    check.not_negative(layer.rim_thickness, path + ".rim thickness", "a rim thickness");
    rim += check.value(layer.rim_thickness);
    if (2.0 * rim >= check.value(section.diameter)) {
      check.problem(path + ".rim thickness", "the rim's layers are thicker than the coin's radius", "Check the unit.");
    }
  }
  check.positive(section.diameter, "section.diameter", "the diameter");
  check.not_negative(section.rim_width, "section.rim width", "the rim's width");
  check.not_negative(section.rim_height_up, "section.rim height.up", "a rim height");
  check.not_negative(section.rim_height_down, "section.rim height.down", "a rim height");
  if (2.0 * check.value(section.rim_width) >= check.value(section.diameter)) {
    check.problem("section.rim width",
                  fmt::format("the rim ({:.3f} mm) reaches the middle of the coin, whose radius is {:.3f} mm",
                              in_mm(check.value(section.rim_width)), in_mm(check.value(section.diameter)) / 2),
                  "State the width of the rim ring, some 1 mm.");
  }
  const double height = check.value(section.rim_height_up) + check.value(section.rim_height_down);
  if (height > 0.0 && check.value(section.rim_width) == 0.0) {
    check.warn("section.rim height",
               "a rim height without a rim width: the rim counts for the gauge and the gaps, not for the mass",
               "State the rim width.");
  }
  if (!check.clean()) return;
  CoinBlock block(construction_of(section), nominal.lanes());
  form(section, nominal, block);
  if (!(block.piece(Piece::diameter)[0] > 0.0)) {
    check.problem("section", "the nominal piece cannot exist", "Check its dimensions.");
  }
}

}  // namespace mintspread::route
