#include "specs/route.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "engine/base/columns.hpp"
#include "engine/base/constants.hpp"
#include "engine/route/check.hpp"
#include "specs/heat.hpp"
#include "specs/number.hpp"
#include "specs/spread.hpp"

namespace mintspread::specs {

namespace {

using route::Amount;

constexpr double hottest_plated = celsius_zero + 1050;
constexpr const char* hottest_why = "copper melts at some 1085 degC";
constexpr double diffuses_above = celsius_zero + 600;

QuantityRule length_rule(const char* name, const char* subject, const char* why, bool zero_allowed,
                         const char* place = "") {
  return {.name = name,
          .dimensions = {dimension::length},
          .smallest = 0,
          .smallest_excluded = !zero_allowed,
          .why = why,
          .subject = subject,
          .place = place};
}

const QuantityRule strip_thickness = length_rule("thickness", "strip thickness", "strip has a thickness", false);
const QuantityRule rimmed_diameter =
    length_rule("rimmed diameter", "rimmed diameter before plating", "a blank has a diameter", false);
const QuantityRule collar = length_rule("collar", "inner diameter of the collar", "a collar has a diameter", false);
const QuantityRule rim_thickness =
    length_rule("rim thickness", "rim-to-rim thickness", "a coin has a thickness", false);
const QuantityRule rim_width = length_rule("rim width", "rim width", "a rim has a width", false);
const QuantityRule section_rim_width = length_rule("rim width", "rim width", "a width is not negative", true);
const QuantityRule rim_height_up =
    length_rule("rim height up", "rim height on the obverse", "a rim does not lie below the field", true);
const QuantityRule rim_height_down =
    length_rule("rim height down", "rim height on the reverse", "a rim does not lie below the field", true);
const QuantityRule coin_diameter = length_rule("diameter", "diameter of the coin", "a coin has a diameter", false);
const QuantityRule layer_thickness =
    length_rule("thickness", "thickness on the face", "a layer cannot be thinner than nothing", false, "face");
const QuantityRule layer_rim =
    length_rule("rim thickness", "thickness on the rim", "a layer cannot be thinner than nothing", true, "rim");
const QuantityRule rim_to_face{.name = "rim to face",
                               .dimensions = {dimension::pure},
                               .smallest = 0,
                               .largest = 20,
                               .smallest_excluded = true,
                               .why = "plating on the rim is some 1 to 4 times as thick as on the face",
                               .subject = "rim thickness over face-centre thickness"};
const QuantityRule mean_to_centre{.name = "mean to centre",
                                  .dimensions = {dimension::pure},
                                  .smallest = 0,
                                  .largest = 10,
                                  .smallest_excluded = true,
                                  .why = "it is a ratio near 1",
                                  .subject = "face-mean over face-centre thickness"};
const QuantityRule minimum_to_mean{.name = "minimum to mean",
                                   .dimensions = {dimension::pure},
                                   .smallest = 0,
                                   .largest = 1,
                                   .smallest_excluded = true,
                                   .why = "a local minimum lies between 0 and the mean",
                                   .subject = "local minimum over mean thickness"};
const QuantityRule piece_to_piece{.name = "piece to piece",
                                  .dimensions = {dimension::pure},
                                  .smallest = 0,
                                  .smallest_excluded = true,
                                  .why = "the factor on a thickness is positive",
                                  .subject = "factor on the thickness"};
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

QuantityRule positive_rule(const char* name, Dimension dimension, const char* why, const char* subject) {
  return {.name = name,
          .dimensions = {dimension},
          .smallest = 0,
          .smallest_excluded = true,
          .why = why,
          .subject = subject};
}

const QuantityRule bath_current =
    positive_rule("current", dimension::current, "a bath deposits by its current", "current through the load");
const QuantityRule bath_time =
    positive_rule("time", dimension::time, "a bath deposits as long as current flows", "time of the current");
const QuantityRule efficiency{.name = "efficiency",
                              .dimensions = {dimension::pure},
                              .smallest = 0,
                              .largest = 1,
                              .smallest_excluded = true,
                              .why = "a part of the charge deposits metal, 100 % at most",
                              .subject = "cathode efficiency"};
const QuantityRule filled_area =
    positive_rule("filled area", dimension::area, "a load has a surface", "surface of all pieces of the load");
const QuantityRule pieces_in_load = positive_rule("pieces", dimension::pure, "a load has pieces", "pieces in the load");
const QuantityRule taken_off =
    length_rule("thickness", "thickness taken off each face", "a step takes off or leaves", true, "face");
const QuantityRule rim_to_face_off{.name = "rim to face",
                                   .dimensions = {dimension::pure},
                                   .smallest = 0,
                                   .largest = 20,
                                   .why = "the rim loses some 1 to 4 times what a face loses",
                                   .subject = "taken off the rim over taken off the face"};

const char* const section_step = "section";

class RouteReader {
 public:
  RouteReader(const Handbook& handbook, Context& context) : handbook_(handbook), context_(context) {}

  void read(const Node& node) {
    const std::size_t before = context_.findings.errors();
    context_.located("route", node.at);
    route::Route made;
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
        read_load(fields, name);
      else if (entry.key == "pickle" || entry.key == "burnish")
        made.steps.emplace_back(removal(fields, entry.key, name));
      else if (entry.key == "anneal")
        made.steps.emplace_back(anneal(fields, name));
      else if (entry.key == "strike")
        made.steps.emplace_back(strike(fields));
    }
    context_.model.coin = std::move(made);
    if (context_.findings.errors() == before && sound(node)) check_nominal(node);
  }

  void read_section(const Node& node) {
    const std::size_t before = context_.findings.errors();
    const Fields f(node, "section");
    route::Section made;
    made.diameter = quantity(f, "diameter", coin_diameter, section_step);
    made.rim_width = quantity(f, "rim width", section_rim_width, section_step);
    read_rim_height(f, section_step, made.rim_height_up, made.rim_height_down);
    const Node* layers = f["layers"];
    for (std::size_t i = 0; layers && i < layers->items.size(); ++i) {
      const Node& item = layers->items[i];
      if (item.refused || item.kind != Node::Kind::mapping) continue;
      const std::string name = Fields(item, "").text("name");
      const Fields layer(item, below("section.layers", name.empty() ? std::to_string(i + 1) : name));
      made.layers.push_back(section_layer(layer, name));
    }
    if (context_.findings.errors() == before && sound(node)) choose_core(f, made);
    context_.model.coin = std::move(made);
    if (context_.findings.errors() == before && sound(node)) check_nominal(node);
  }

 private:
  /// An input from its key; from `otherwise` where the key does not stand, as a constant that the echo calls not
  /// stated.
  InputId quantity(const Fields& f, const std::string& key, const QuantityRule& rule, const std::string& step,
                   std::optional<double> otherwise = {}, const Unit& unit = {}) {
    const std::string path = f.path(key);
    if (const Node* node = f[key]) {
      auto input = read_quantity(*node, rule, path, step, context_);
      return input ? context_.add(std::move(*input)) : InputId{};
    }
    if (f.stands(key) || !otherwise) return {};
    const std::string subject = rule.subject.empty() ? rule.name : rule.subject;
    return context_.add(constant_input(rule, path, step, *otherwise, unit,
                                       fmt::format("{}: exact, {}, not stated", told(*otherwise, unit), subject)));
  }

  route::Blank blank(const Fields& f) {
    on_piece_.insert("blank");
    const route::Blank made{handbook_.metal(f, "blank", context_), quantity(f, "thickness", strip_thickness, "blank"),
                            quantity(f, "rimmed diameter", rimmed_diameter, "blank")};
    if (f["thickness"] && f["rimmed diameter"] && !context_.findings.any_error()) {
      const double diameter = context_.model.inputs[index(made.diameter)].nominal;
      blank_surface_ = pi * diameter * (0.5 * diameter + context_.model.inputs[index(made.thickness)].nominal);
    }
    return made;
  }

  /// One filling for all the baths up to the next load.
  void read_load(const Fields& f, const std::string& name) {
    const std::string step = name.empty() ? "load" : "load " + name;
    const bool counted = f.stands("pieces");
    load_ = counted ? quantity(f, "pieces", pieces_in_load, step) : quantity(f, "filled area", filled_area, step);
    surface_of_one_ = counted ? blank_surface_ : 1.0;
    if (counted && f["pieces"] && !context_.findings.any_error()) {
      study::Input& input = context_.model.inputs[index(*load_)];
      input.understood += fmt::format(", of {:.4g} cm2 each (nominal blank): {:.4g} m2", surface_of_one_ * 1e4,
                                      input.nominal * surface_of_one_);
    }
  }

  route::Removal removal(const Fields& f, const std::string& key, const std::string& name) {
    const std::string step = name.empty() ? key : key + " " + name;
    return {f.path(), quantity(f, "thickness", taken_off, step),
            quantity(f, "rim to face", rim_to_face_off, step, 1.0)};
  }

  route::Bath bath(const Fields& f, const std::string& name) {
    const std::string step = "bath " + name;
    on_piece_.insert(name);
    if (name == "blank")
      context_.findings.error(f["name"]->at, f.path(), "a bath cannot be called `blank`, which is the name of the core",
                              "Give it another name.");
    route::Bath made;
    made.name = name;
    made.metal = handbook_.metal(f, step, context_);
    if (const Node* node = f["thickness"]) read_amount(*node, f, step, made);
    read_electrolysis(f, step, made);
    made.piece_to_piece = variation(f, step);
    made.rim_to_face = quantity(f, "rim to face", rim_to_face, step, 1.0);
    warn_of_rim(f, made.rim_to_face);
    made.mean_to_centre = quantity(f, "mean to centre", mean_to_centre, step, 1.0);
    made.minimum_to_mean = quantity(f, "minimum to mean", minimum_to_mean, step, 1.0);
    if (made.statistic == route::Statistic::local_minimum && !f.stands("minimum to mean"))
      context_.findings.error(f["thickness"]->at, f.path("thickness"),
                              "a local minimum tells nothing of the mean without `minimum to mean`",
                              "Add `minimum to mean`, for example 0.8.");
    return made;
  }

  /// Common practice, without a source: the rim's plating is 1 to 4 times as thick as the face's.
  void warn_of_rim(const Fields& f, InputId ratio) {
    const Node* node = f["rim to face"];
    if (node == nullptr || context_.findings.any_error()) return;
    const study::Input& input = context_.model.inputs[index(ratio)];
    const double lower = input.tolerance.bounded() ? input.tolerance.lower : input.nominal;
    const double upper = input.tolerance.bounded() ? input.tolerance.upper : input.nominal;
    if (lower >= 1 && upper <= 4) return;
    context_.findings.warning(node->at, f.path("rim to face"),
                              fmt::format("{} times the face's thickness on the rim is unusual: 1 to 4 times is common "
                                          "practice",
                                          short_number(lower < 1 ? lower : upper, 3)),
                              "Check the ratio: rim over face centre.");
  }

  /// `current`, `time`, `efficiency`. Beside a stated thickness they are only compared with it, so they keep no spread.
  void read_electrolysis(const Fields& f, const std::string& step, route::Bath& bath) {
    const bool told = f.stands("current"), stated = f.stands("thickness");
    if (!told) {
      for (const char* key : {"time", "efficiency"})
        if (f.stands(key))
          context_.findings.error(f.node().find(key)->at, f.path(key),
                                  fmt::format("`{}` says nothing without a current", key),
                                  stated ? "Leave it out, or add `current`." : "Add `current`.");
      if (!stated && !f.stands("time") && !f.stands("efficiency"))
        context_.findings.error(f.node().at, f.path(), "either a thickness or a current is needed",
                                "Add `thickness: 18 um`, or `current`, `time` and `efficiency`.");
      return;
    }
    for (const char* key : {"time", "efficiency"})
      if (!f.stands(key))
        context_.findings.error(f.node().find("current")->at, f.path("current"),
                                fmt::format("a current gives no thickness without `{}`", key),
                                fmt::format("Add `{}`.", key));
    if (!load_) {
      context_.findings.error(f.node().find("current")->at, f.path("current"),
                              "no load stands before this bath, so it is not known over which area the current spreads",
                              "Put a step `load: {filled area: 34 m2}` or `load: {pieces: 40000}` before it.");
      return;
    }
    const auto charge = materials::charge_for_mass(bath.metal.composition);
    if (!charge && f["material"] && !context_.findings.any_error())
      context_.findings.error(
          f["material"]->at, f.path("material"),
          fmt::format("the composition of `{}` does not tell from which ions it is deposited", bath.metal.name),
          "Add `composition: {Cu: {valence: 2}}`, with `part` for an alloy, here or in the handbook.");
    const std::size_t first = context_.model.inputs.size();
    bath.electrolysis = route::Electrolysis{quantity(f, "current", bath_current, step),
                                            quantity(f, "time", bath_time, step),
                                            quantity(f, "efficiency", efficiency, step),
                                            *load_,
                                            surface_of_one_,
                                            charge.value_or(1.0)};
    if (!stated) {
      bath.kind = Amount::charge;
      return;
    }
    for (std::size_t i = first; i < context_.model.inputs.size(); ++i) {
      study::Input& input = context_.model.inputs[i];
      input.components.clear();
      input.known_to.reset();
      input.tolerance = {};
      input.understood += "; only compared with the stated thickness";
    }
  }

  void read_amount(const Node& node, const Fields& f, const std::string& step, route::Bath& bath) {
    const Fields own(node, f.path("thickness"));
    const bool long_form = node.kind == Node::Kind::mapping;
    const std::string at = long_form ? own.text("at") : "", stage = long_form ? own.text("stage") : "",
                      statistic = long_form ? own.text("statistic") : "";
    bath.place = at == "face mean" ? route::Place::face_mean
                 : at == "rim"     ? route::Place::rim
                                   : route::Place::face_centre;
    bath.stage = stage == "struck" ? route::Stage::struck : route::Stage::as_plated;
    bath.statistic = statistic == "local minimum" ? route::Statistic::local_minimum : route::Statistic::mean;
    bath.kind = kind_of(node);

    QuantityRule rule{.name = "thickness",
                      .dimensions = {dimension::length, dimension::areal_mass, dimension::mass_share},
                      .smallest = 0,
                      .smallest_excluded = true,
                      .why = "a layer cannot be thinner than nothing"};
    const char* place = bath.place == route::Place::rim         ? "rim"
                        : bath.place == route::Place::face_mean ? "face-mean"
                                                                : "face-centre";
    const char* when = bath.stage == route::Stage::struck ? "struck" : "as-plated";
    const char* what = bath.statistic == route::Statistic::local_minimum ? "local minimum of the" : "mean";
    if (bath.kind == Amount::mass_fraction) {
      rule.largest = 1;
      rule.why = "a layer is a part of the piece's mass";
      rule.subject = "share of the finished piece's mass";
      for (const char* key : {"at", "stage", "statistic"})
        if (long_form && own.stands(key))
          context_.findings.error(own.node().find(key)->value.at, own.path(key),
                                  fmt::format("a share of the mass is of the whole layer, so `{}` says nothing", key),
                                  "Leave it out.");
    } else {
      rule.subject = fmt::format("{} {} {} {}", what, when, place,
                                 bath.kind == Amount::areal_mass ? "mass for an area" : "thickness");
      rule.place = at.empty() ? "face centre" : at;
    }
    if (auto input = read_quantity(node, rule, f.path("thickness"), step, context_))
      bath.amount = context_.add(std::move(*input));
  }

  /// What kind of amount is stated, by its unit, before it is read.
  static Amount kind_of(const Node& node) {
    const Fields f(node, "");
    const Node* data = f["data"];
    std::vector<const Node*> texts = {node.kind == Node::Kind::text ? &node : f["value"], f["known to"]};
    if (const Node* parts = f["parts"])
      for (const Node& part : parts->items) texts.push_back(Fields(part, "")["value"]);
    Dimension found = dimension::length;
    if (const Node* unit = data ? Fields(*data, "")["unit"] : nullptr)
      if (const auto read = unit_text(unit->text); std::holds_alternative<MeasuredUnit>(read))
        found = std::get<MeasuredUnit>(read).dimension;
    for (const Node* text : texts) {
      if (text == nullptr || text->kind != Node::Kind::text) continue;
      const auto read = quantity_text(text->text);
      const auto* q = std::get_if<QuantityText>(&read);
      if (q == nullptr || !q->value) continue;
      found = q->value->has_unit ? q->value->measured.dimension : q->tolerance.measured.dimension;
      break;
    }
    return found == dimension::mass_share   ? Amount::mass_fraction
           : found == dimension::areal_mass ? Amount::areal_mass
                                            : Amount::thickness;
  }

  /// `piece to piece: 9 %`: a factor about 1 with this coefficient of variation.
  InputId variation(const Fields& f, const std::string& step) {
    const std::string path = f.path("piece to piece");
    const Node* node = f["piece to piece"];
    if (node == nullptr) {
      if (f.stands("piece to piece")) return {};
      return context_.add(
          constant_input(piece_to_piece, path, step, 1, {}, "no variation from piece to piece, not stated"));
    }
    const bool long_form = node->kind == Node::Kind::mapping;
    const Fields own(*node, path);
    const bool surfacings = long_form && own.stands("surfacings");
    const Node* sd = surfacings ? own["surfacings"] : long_form ? own["sd"] : node;
    if (sd == nullptr) return {};
    if (!surfacings)
      for (const char* key : {"each", "floor"})
        if (long_form && own.stands(key))
          context_.findings.error(own.node().find(key)->at, own.path(key),
                                  fmt::format("`{}` says nothing without `surfacings`", key), "Leave it out.");
    const QuantityRule rule{.name = "a coefficient of variation",
                            .dimensions = {dimension::pure},
                            .smallest = 0,
                            .largest = 1,
                            .why = "it lies between 0 and 100 %"};
    const auto stated =
        surfacings ? from_surfacings(own, rule) : read_constant(*sd, rule, long_form ? own.path("sd") : path, context_);
    if (!stated) return {};
    study::Input input = constant_input(piece_to_piece, path, step, 1, {}, "");
    const std::string shape = long_form && own.text("shape") == "lognormal" ? "lognormal" : "normal";
    if (stated->value > 0) {
      // A lognormal factor of coefficient of variation c has a logarithm of variance ln(1 + c^2).
      const double log_sd = std::sqrt(std::log1p(stated->value * stated->value));
      input.components.push_back({shape == "lognormal" ? sampling::Shape(sampling::Lognormal{1, log_sd})
                                                       : sampling::Shape(sampling::Normal{stated->value}),
                                  true, study::piece_level});
    }
    const double beyond = 0.5 * std::erfc(1 / (stated->value * std::sqrt(2.0)));
    if (shape == "normal" && stated->value > 0 && beyond >= 1e-6)
      context_.findings.warning(
          sd->at, path,
          fmt::format("about {} % of the pieces would have a negative thickness and are not computed",
                      short_number(beyond * 100, 2)),
          "State `{sd: ..., shape: lognormal}`.");
    input.understood =
        fmt::format("factor on the thickness: {}, coefficient of variation {} %, piece to piece, not sorted", shape,
                    short_number(stated->value * 100, 6));
    if (surfacings) input.understood += fmt::format(", from {} surfacings", own.text("surfacings"));
    if (stated->value == 0) input.understood = "no variation from piece to piece";
    if (const Node* basis = long_form ? own["basis"] : nullptr) read_basis(*basis, own.path("basis"), input);
    return context_.add(std::move(input));
  }

  /// Each surfacing adds an independent increment, so n of them leave each / sqrt(n); what they do not even out (shape
  /// of the piece, its place) is independent of that: the squares add up.
  std::optional<Constant> from_surfacings(const Fields& own, const QuantityRule& rule) {
    const auto part = [&](const char* key, double otherwise, double largest) -> std::optional<double> {
      const Node* node = own[key];
      if (node == nullptr) return own.stands(key) ? std::nullopt : std::optional(otherwise);
      QuantityRule here = rule;
      here.largest = largest;
      here.why = "a coefficient of variation is not negative, nor so large";
      const auto read = read_constant(*node, here, own.path(key), context_);
      return read ? std::optional(read->value) : std::nullopt;
    };
    const Node& node = *own["surfacings"];
    const auto count = read_number(node, own.path("surfacings"), context_);
    const auto each = part("each", 1, 10), least = part("floor", 0, 1);
    if (!count || !each || !least) return std::nullopt;
    if (!(*count >= 1)) {
      context_.findings.error(node.at, own.path("surfacings"), "a piece that is plated surfaces once at least",
                              "State how often a piece comes to the surface of the load.");
      return std::nullopt;
    }
    const double variation = std::sqrt(*each * *each / *count + *least * *least);
    if (variation <= 1) return Constant{variation, {}};
    context_.findings.error(node.at, own.path("surfacings"),
                            fmt::format("so few surfacings leave a variation of {:.0f} %", variation * 100),
                            "State more of them, or what one of them varies by.");
    return std::nullopt;
  }

  void read_basis(const Node& node, const std::string& path, study::Input& input) {
    // The long form of a quantity reads bases; a constant carries this one there.
    Node quantity;
    quantity.kind = Node::Kind::mapping;
    quantity.at = node.at;
    Node one;
    one.kind = Node::Kind::text;
    one.text = "1";
    one.at = node.at;
    quantity.entries = {{"value", node.at, one}, {"basis", node.at, node}};
    if (const auto read = read_quantity(quantity, piece_to_piece, path, "", context_, path)) {
      input.basis = read->basis;
      input.basis_note = read->basis_note;
    }
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
    route::Anneal made{name, quantity(f, "temperature", temperature, step), quantity(f, "time", anneal_time, step),
                       changes(f, step)};
    if (f.stands("place in the charge")) made.place = quantity(f, "place in the charge", place_in_charge, step);
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
    made.collar = quantity(f, "collar", collar, "strike");
    made.rim_thickness = quantity(f, "rim thickness", rim_thickness, "strike");
    made.rim_width = quantity(f, "rim width", rim_width, "strike");
    read_rim_height(f, "strike", made.rim_height_up, made.rim_height_down);
    made.changes = changes(f, "strike");
    return made;
  }

  void read_rim_height(const Fields& f, const std::string& step, InputId& up, InputId& down) {
    if (f.stands("rim height") && f["rim height"] == nullptr) return;
    Node none;
    none.kind = Node::Kind::mapping;
    none.at = f.node().at;
    const Node* node = f["rim height"];
    const Fields height(node ? *node : none, f.path("rim height"));
    const Unit mm{"mm", 1e-3, 0};
    up = quantity(height, "up", rim_height_up, step, 0.0, mm);
    down = quantity(height, "down", rim_height_down, step, 0.0, mm);
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
      made.push_back({entry.key, quantity(own, "conductivity", conductivity, step, 1.0),
                      quantity(own, "permeability", permeability, step, 1.0)});
      read_softening(own, context_, made.back());
      if (const Node* curve = own["curve"]) read_curve(*curve, own, context_, made.back());
    }
    return made;
  }

  route::Section::Layer section_layer(const Fields& f, const std::string& name) {
    route::Section::Layer made{
        name, handbook_.metal(f, section_step, context_), quantity(f, "thickness", layer_thickness, section_step), {}};
    // As on the face: the same draw, not another one of the same distribution.
    made.rim_thickness =
        f.stands("rim thickness") ? quantity(f, "rim thickness", layer_rim, section_step) : made.thickness;
    return made;
  }

  void choose_core(const Fields& f, route::Section& section) {
    const auto thickness = [&](const route::Section::Layer& layer) {
      return context_.model.inputs[index(layer.thickness)].nominal;
    };
    if (const Node* core = f["core"]) {
      std::vector<std::string> names;
      for (const route::Section::Layer& layer : section.layers) names.push_back(layer.name);
      const auto found = std::find(names.begin(), names.end(), f.text("core"));
      if (found == names.end())
        context_.findings.error(core->at, f.path("core"),
                                fmt::format("`{}` is no layer of the section", f.text("core")),
                                suggest(f.text("core"), names));
      else
        section.core = static_cast<std::size_t>(found - names.begin());
      return;
    }
    const auto thickest = std::max_element(section.layers.begin(), section.layers.end(),
                                           [&](const auto& a, const auto& b) { return thickness(a) < thickness(b); });
    section.core = static_cast<std::size_t>(thickest - section.layers.begin());
    const auto as_thick = std::count_if(section.layers.begin(), section.layers.end(),
                                        [&](const auto& layer) { return thickness(layer) == thickness(*thickest); });
    if (as_thick > 1)
      context_.findings.error(f.node().at, f.path(),
                              "two layers are equally thick, so it is not clear which one is the core",
                              "Name it: `core: NAME`.");
  }

  /// Whether everything the nominal piece is made of could be read, so that the engine's check says nothing strange.
  bool sound(const Node& node) const {
    return handbook_.sound(context_) && context_.findings.sound(node.at.source->name());
  }

  /// The engine's own check of the nominal piece. Its warnings come with the study.
  void check_nominal(const Node& node) {
    Columns nominal(context_.model.inputs.size(), 8);
    for (std::size_t i = 0; i < context_.model.inputs.size(); ++i)
      std::ranges::fill(nominal[i], context_.model.inputs[i].nominal);
    std::vector<Problem> problems, warnings;
    std::visit([&](const auto& coin) { route::check(coin, nominal, problems, warnings); }, context_.model.coin);
    for (const Problem& problem : problems) context_.report(problem, node.at);
  }

  const Handbook& handbook_;
  Context& context_;
  std::set<std::string> on_piece_;
  double blank_surface_ = 1.0;   ///< of the nominal blank, m2
  std::optional<InputId> load_;  ///< filling of the load that the baths now read belong to
  double surface_of_one_ = 1.0;  ///< m2 in one unit of it
};

}  // namespace

void read_route(const Node& route, const Handbook& handbook, Context& context) {
  RouteReader(handbook, context).read(route);
}

void read_section(const Node& section, const Handbook& handbook, Context& context) {
  RouteReader(handbook, context).read_section(section);
}

}  // namespace mintspread::specs
