#include "specs/route.hpp"

#include <fmt/format.h>

#include <set>
#include <string>
#include <vector>

#include "engine/base/constants.hpp"
#include "specs/baths.hpp"
#include "specs/coin_parts.hpp"
#include "specs/heat.hpp"
#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

constexpr double hottest_plated = celsius_zero + 1050;
constexpr const char* hottest_why = "copper melts at some 1085 degC";
constexpr double diffuses_above = celsius_zero + 600;

const QuantityRule strip_thickness = length_rule("thickness", "strip thickness", "strip has a thickness", false);
const QuantityRule rimmed_diameter =
    length_rule("rimmed diameter", "rimmed diameter before plating", "a blank has a diameter", false);
const QuantityRule collar = length_rule("collar", "inner diameter of the collar", "a collar has a diameter", false);
const QuantityRule rim_thickness =
    length_rule("rim thickness", "rim-to-rim thickness", "a coin has a thickness", false);
const QuantityRule rim_width = length_rule("rim width", "rim width", "a rim has a width", false);
const QuantityRule property_factor{.name = "factor",
                                   .dimensions = {dimension::pure},
                                   .smallest = 0,
                                   .largest = 1000,
                                   .smallest_excluded = true,
                                   .why = "a factor on a property is positive"};
const QuantityRule anneal_time{.name = "time",
                               .dimensions = {dimension::time},
                               .smallest = 0,
                               .why = "a time is not negative",
                               .subject = "time at temperature"};

const QuantityRule place_in_charge{.name = "place in the charge",
                                   .dimensions = {dimension::temperature},
                                   .smallest = -300,
                                   .largest = 300,
                                   .why = "pieces of one furnace differ by less",
                                   .subject = "difference of temperature by place in the charge",
                                   .deviation_only = true};

const QuantityRule taken_off =
    length_rule("thickness", "thickness taken off each face", "a step takes off or leaves", true, "face");
const QuantityRule rim_to_face_off{.name = "rim to face",
                                   .dimensions = {dimension::pure},
                                   .smallest = 0,
                                   .largest = 20,
                                   .why = "the rim loses some 1 to 4 times what a face loses",
                                   .subject = "taken off the rim over taken off the face"};

class RouteReader {
 public:
  RouteReader(const Handbook& handbook, Context& context)
      : handbook_(handbook), context_(context), baths_(handbook, context) {}

  void read(const Node& node) {
    const std::size_t before = context_.findings.errors();
    context_.located("route", node.at);
    route::Route made;
    made.boundaries = handbook_.boundaries();
    for (const Node& item : node.items) {
      if (item.refused || item.entries.size() != 1 || item.entries[0].value.kind != Node::Kind::mapping) continue;
      const Entry& entry = item.entries[0];
      if (entry.value.refused) continue;
      const std::string name = Fields(entry.value, "").text("name");
      const Fields fields(entry.value, name.empty() ? entry.key : entry.key + "." + name);
      if (entry.key == "blank")
        made.steps.emplace_back(blank(fields));
      else if (entry.key == "bath")
        made.steps.emplace_back(bath(fields, name));
      else if (entry.key == "load")
        baths_.read_load(fields, name);
      else if (entry.key == "pickle" || entry.key == "burnish")
        made.steps.emplace_back(removal(fields, entry.key, name));
      else if (entry.key == "anneal")
        made.steps.emplace_back(anneal(fields, name));
      else if (entry.key == "strike")
        made.steps.emplace_back(strike(fields));
    }
    context_.model.coin = std::move(made);
    if (context_.findings.errors() == before) check_nominal(node, handbook_, context_);
  }

 private:
  route::Blank blank(const Fields& f) {
    on_piece_.insert("blank");
    const route::Blank made{handbook_.metal(f, "blank", context_),
                            add_quantity(context_, f, "thickness", strip_thickness, "blank"),
                            add_quantity(context_, f, "rimmed diameter", rimmed_diameter, "blank")};
    if (f["thickness"] && f["rimmed diameter"] && !context_.findings.any_error()) {
      const double diameter = context_.model.inputs[index(made.diameter)].nominal;
      baths_.set_blank_surface(pi * diameter * (0.5 * diameter + context_.model.inputs[index(made.thickness)].nominal));
    }
    return made;
  }

  route::Bath bath(const Fields& f, const std::string& name) {
    on_piece_.insert(name);
    return baths_.read(f, name);
  }

  route::Removal removal(const Fields& f, const std::string& key, const std::string& name) {
    const std::string step = name.empty() ? key : key + " " + name;
    return {f.path(), add_quantity(context_, f, "thickness", taken_off, step),
            add_quantity(context_, f, "rim to face", rim_to_face_off, step, 1.0)};
  }

  route::Anneal anneal(const Fields& f, const std::string& name) {
    const std::string step = name.empty() ? "anneal" : "anneal " + name;
    const bool plated = on_piece_.size() > 1;
    QuantityRule temperature{.name = "temperature",
                             .dimensions = {dimension::temperature},
                             .smallest = celsius_zero,
                             .largest = plated ? hottest_plated : celsius_zero + 1500,
                             .why = plated ? hottest_why : "an anneal lies between 0 and 1500 degC",
                             .subject = "temperature of the pieces"};
    route::Anneal made{name, add_quantity(context_, f, "temperature", temperature, step),
                       add_quantity(context_, f, "time", anneal_time, step), changes(f, step)};
    if (f.stands("place in the charge"))
      made.place = add_quantity(context_, f, "place in the charge", place_in_charge, step);
    const bool known = f["temperature"] && f["time"] && !context_.findings.any_error();
    const double nominal = known ? context_.model.inputs[index(made.temperature)].nominal : 0;
    made.diffusion = plated && (f.stands("diffusion") ? f.text("diffusion") == "computed" : nominal > diffuses_above);
    if (const Node* sealed = f["sealed under"])
      for (const Node& item : sealed->items)
        if (!item.refused) made.sealed_under.push_back(single_blanks(item.text));
    if (const Node* profile = f["profile"])
      read_profile(*profile, f, nominal, known ? context_.model.inputs[index(made.time)].nominal : 0, context_, made);
    return made;
  }

  route::Strike strike(const Fields& f) {
    route::Strike made;
    made.collar = add_quantity(context_, f, "collar", collar, "strike");
    made.rim_thickness = add_quantity(context_, f, "rim thickness", rim_thickness, "strike");
    made.rim_width = add_quantity(context_, f, "rim width", rim_width, "strike");
    read_rim_height(f, "strike", context_, made.rim_height_up, made.rim_height_down);
    made.changes = changes(f, "strike");
    return made;
  }

  std::vector<route::PropertyChange> changes(const Fields& f, const std::string& step) {
    std::vector<route::PropertyChange> made;
    const Node* node = f["changes"];
    if (node == nullptr) return made;
    for (const Entry& entry : node->entries) {
      if (entry.value.refused) continue;
      const Fields own(entry.value, below(f.path("changes"), entry.key));
      if (!on_piece_.contains(entry.key)) {
        context_.findings.error(entry.at, own.path(),
                                fmt::format("`{}` is no metal of the piece at this step", entry.key),
                                suggest(entry.key, {on_piece_.begin(), on_piece_.end()}));
        continue;
      }
      QuantityRule conductivity = property_factor, permeability = property_factor;
      conductivity.name = "conductivity factor";
      conductivity.subject = fmt::format("factor on the conductivity of {}", entry.key);
      permeability.name = "permeability factor";
      permeability.subject = fmt::format("factor on the permeability of {}", entry.key);
      made.push_back({entry.key, add_quantity(context_, own, "conductivity", conductivity, step, 1.0),
                      add_quantity(context_, own, "permeability", permeability, step, 1.0)});
      read_softening(own, context_, made.back());
      if (const Node* curve = own["curve"]) read_curve(*curve, own, context_, made.back());
    }
    return made;
  }

  const Handbook& handbook_;
  Context& context_;
  Baths baths_;
  std::set<std::string> on_piece_;
};

}  // namespace

void read_route(const Node& route, const Handbook& handbook, Context& context) {
  RouteReader(handbook, context).read(route);
}

}  // namespace mintspread::specs
