#include "engine/route/check_order.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <set>
#include <variant>

#include "engine/base/constants.hpp"
#include "engine/route/diffusion.hpp"

namespace mintspread::route {

std::string path_of(const Bath& bath) { return "bath." + bath.name; }
std::string path_of(const Anneal& anneal) {
  return anneal.name.empty() || anneal.name == "anneal" ? "anneal" : "anneal." + anneal.name;
}

namespace {

// Copper melts at 1084.6 C (from memory); a mint's furnace keeps well below.
constexpr double hottest_plated_anneal = celsius_zero + 1050.0;
constexpr double always_diffuses = celsius_zero + 600.0;

void check_changes(const std::vector<PropertyChange>& changes, const std::string& path,
                   const std::set<std::string>& on_piece, NominalCheck& check) {
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

void check_electrolysis(const Electrolysis& electrolysis, const std::string& path, NominalCheck& check) {
  check.positive(electrolysis.current, path + ".current", "a current");
  check.positive(electrolysis.time, path + ".time", "a time");
  check.positive(electrolysis.efficiency, path + ".efficiency", "a cathode efficiency");
  check.positive(electrolysis.filling, path + ".current", "the filled area of the load");
  if (check.value(electrolysis.efficiency) > 1.0) {
    check.problem(path + ".efficiency", "a cathode efficiency cannot exceed 100 %",
                  "State the part that deposits metal.");
  }
}

void check_bath(const Bath& bath, bool struck, NominalCheck& check) {
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
  if (bath.statistic == Statistic::local_minimum && !of_whole_layer(bath.kind)) {
    check.positive(bath.minimum_to_mean, path + ".minimum to mean", "the ratio of local minimum to mean");
    if (check.value(bath.minimum_to_mean) > 1.0) {
      check.problem(path + ".minimum to mean", "a local minimum cannot exceed the mean", "State a ratio up to 1.");
    }
  }
  if (of_whole_layer(bath.kind) &&
      (bath.place != Place::face_centre || bath.stage != Stage::as_plated || bath.statistic != Statistic::mean)) {
    check.warn(path + ".thickness",
               "a mass has no place, stage or statistic: the whole layer is meant, before and after the strike", "");
  }
  if (bath.stage == Stage::struck && !of_whole_layer(bath.kind) && !struck) {
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

/// What to do where there are no data on two neighbours: the entry of the materials file, where one can be made.
std::string without_data(const Layer& inner, const Layer& outer, NominalCheck& check) {
  constexpr double not_magnetic = 1.01;
  const auto first = element_of(*inner.metal), second = element_of(*outer.metal);
  const bool first_magnetic = check.value(inner.metal->permeability) > not_magnetic,
             second_magnetic = check.value(outer.metal->permeability) > not_magnetic;
  std::string entry;
  if (!first.empty() && !second.empty() && !(first_magnetic && second_magnetic)) {
    std::string magnetic;
    if (first_magnetic || second_magnetic)
      magnetic = fmt::format(", {} magnetic up to: ... %", first_magnetic ? "first" : "second");
    entry = fmt::format(
        "Where they dissolve into each other, add to the materials file, with figures of your own: `diffusion: [{{"
        "between: [{}, {}], first in second: {{factor: ... cm2/s, activation energy: ... kJ/mol}}, second in first: "
        "{{factor: ... cm2/s, activation energy: ... kJ/mol}}{}, resistivity: [{{part: 0 %, resistivity: ... uohm "
        "cm}}, "
        "..., {{part: 100 %, resistivity: ... uohm cm}}]}}]`. ",
        first, second, magnetic);
  }
  return fmt::format(
      "{1}Where the boundary stays sharp enough, state `sealed under: [{0}]`; or anneal before that bath, or at 600 "
      "degC "
      "at most. An alloyed zone known otherwise is added as a bath of its own between the two, with thickness, "
      "conductivity and permeability: `sealed under: [zone, {0}]`.",
      outer.name, entry);
}

/// An anneal of a plated piece: whether every boundary's behaviour is known.
void check_heat(const Route& route, const Anneal& anneal, const std::vector<Layer>& metals, bool struck,
                NominalCheck& check) {
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
    const Meeting meeting = meeting_of(route, *metals[i - 1].metal, *metals[i].metal);
    if (sealed) continue;
    if (meeting == Meeting::blurs && ++boundaries > Blurs::most) {
      check.problem(path, fmt::format("more than {} boundaries that blur", Blurs::most),
                    "State some of them as sealed.");
    }
    if (meeting != Meeting::unknown) continue;
    check.problem(
        path,
        fmt::format("there are no data on how {} and {}, the layers \"{}\" and \"{}\", diffuse into each other",
                    called(metals[i - 1]), called(metals[i]), metals[i - 1].name, metals[i].name),
        without_data(metals[i - 1], metals[i], check));
  }
  for (const std::string& name : anneal.sealed_under) {
    if (std::any_of(metals.begin() + 1, metals.end(), [&](const Layer& layer) { return layer.name == name; })) continue;
    check.problem(path + ".sealed under", fmt::format("\"{}\" is no layer on the piece at this step", name),
                  "Name the baths whose inner boundary stays sharp.");
  }
}

}  // namespace

void check_order(const Route& route, NominalCheck& check) {
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
      if (on_piece.size() > 1) check_heat(route, *anneal, metals, has_struck, check);
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

}  // namespace mintspread::route
