#include "specs/baths.hpp"

#include <fmt/format.h>

#include <optional>
#include <vector>

#include "engine/materials/deposition.hpp"
#include "specs/coin_parts.hpp"
#include "specs/number.hpp"
#include "specs/piece_to_piece.hpp"
#include "specs/quantity_data.hpp"
#include "specs/spread.hpp"

namespace mintspread::specs {

namespace {

using route::Amount;

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

/// What kind of amount is stated, by its unit, before it is read.
Amount kind_of(const Node& node, const std::string& path, Context& context) {
  const Fields f(node, path);
  const Node* data = f["data"];
  std::vector<const Node*> texts = {node.kind == Node::Kind::text ? &node : f["value"], f["known to"]};
  if (const Node* parts = f["parts"])
    for (const Node& part : parts->items) texts.push_back(Fields(part, "")["value"]);
  Dimension found = dimension::length;
  if (data) {
    const std::string data_path = below(path, "data");
    const Node* unit = Fields(*data, data_path)["unit"];
    const auto read = unit_text(unit ? unit->text : unit_in_heading(*data, data_path, context));
    if (std::holds_alternative<MeasuredUnit>(read)) found = std::get<MeasuredUnit>(read).dimension;
  }
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
         : found == dimension::mass       ? Amount::mass
                                          : Amount::thickness;
}

}  // namespace

void Baths::read_load(const Fields& f, const std::string& name) {
  const std::string step = name.empty() ? "load" : "load " + name;
  const bool counted = f.stands("pieces");
  load_ = counted ? add_quantity(context_, f, "pieces", pieces_in_load, step)
                  : add_quantity(context_, f, "filled area", filled_area, step);
  surface_of_one_ = counted ? blank_surface_ : 1.0;
  if (counted && f["pieces"] && !context_.findings.any_error()) {
    study::Input& input = context_.model.inputs[index(*load_)];
    input.understood += fmt::format(", of {:.4g} cm2 each (nominal blank): {:.4g} m2", surface_of_one_ * 1e4,
                                    input.nominal * surface_of_one_);
  }
}

route::Bath Baths::read(const Fields& f, const std::string& name) {
  const std::string step = "bath " + name;
  if (name == "blank")
    context_.findings.error(f["name"]->at, f.path(), "a bath cannot be called `blank`, which is the name of the core",
                            "Give it another name.");
  route::Bath made;
  made.name = name;
  made.metal = handbook_.metal(f, step, context_);
  if (const Node* node = f["thickness"]) read_amount(*node, f, step, made);
  read_electrolysis(f, step, made);
  made.piece_to_piece = read_piece_to_piece(f, step, context_);
  made.rim_to_face = add_quantity(context_, f, "rim to face", rim_to_face, step, 1.0);
  warn_of_rim(f, made.rim_to_face);
  made.mean_to_centre = add_quantity(context_, f, "mean to centre", mean_to_centre, step, 1.0);
  made.minimum_to_mean = add_quantity(context_, f, "minimum to mean", minimum_to_mean, step, 1.0);
  if (made.statistic == route::Statistic::local_minimum && !f.stands("minimum to mean"))
    context_.findings.error(f["thickness"]->at, f.path("thickness"),
                            "a local minimum tells nothing of the mean without `minimum to mean`",
                            "Add `minimum to mean`, for example 0.8.");
  return made;
}

/// Common practice, without a source: the rim's plating is 1 to 4 times as thick as the face's.
void Baths::warn_of_rim(const Fields& f, InputId ratio) {
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
void Baths::read_electrolysis(const Fields& f, const std::string& step, route::Bath& bath) {
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
  bath.electrolysis = route::Electrolysis{add_quantity(context_, f, "current", bath_current, step),
                                          add_quantity(context_, f, "time", bath_time, step),
                                          add_quantity(context_, f, "efficiency", efficiency, step),
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

void Baths::read_amount(const Node& node, const Fields& f, const std::string& step, route::Bath& bath) {
  const Fields own(node, f.path("thickness"));
  const bool long_form = node.kind == Node::Kind::mapping;
  const std::string at = long_form ? own.text("at") : "", stage = long_form ? own.text("stage") : "",
                    statistic = long_form ? own.text("statistic") : "";
  bath.place = at == "face mean" ? route::Place::face_mean
               : at == "rim"     ? route::Place::rim
                                 : route::Place::face_centre;
  bath.stage = stage == "struck" ? route::Stage::struck : route::Stage::as_plated;
  bath.statistic = statistic == "local minimum" ? route::Statistic::local_minimum : route::Statistic::mean;
  bath.kind = kind_of(node, f.path("thickness"), context_);

  QuantityRule rule{.name = "thickness",
                    .dimensions = {dimension::length, dimension::areal_mass, dimension::mass, dimension::mass_share},
                    .smallest = 0,
                    .smallest_excluded = true,
                    .why = "a layer cannot be thinner than nothing"};
  const char* place = bath.place == route::Place::rim         ? "rim"
                      : bath.place == route::Place::face_mean ? "face-mean"
                                                              : "face-centre";
  const char* when = bath.stage == route::Stage::struck ? "struck" : "as-plated";
  const char* what = bath.statistic == route::Statistic::local_minimum ? "local minimum of the" : "mean";
  rule.composition = bath.metal.composition;
  if (bath.kind == Amount::mass_fraction) {
    rule.largest = 1;
    rule.why = "a layer is a part of the piece's mass";
  }
  if (of_whole_layer(bath.kind)) {
    rule.subject = bath.kind == Amount::mass ? "mass of the layer on a piece" : "share of the finished piece's mass";
    for (const char* key : {"at", "stage", "statistic"})
      if (long_form && own.stands(key))
        context_.findings.error(own.node().find(key)->value.at, own.path(key),
                                fmt::format("a mass is of the whole layer, so `{}` says nothing", key),
                                "Leave it out.");
  } else {
    rule.subject = fmt::format("{} {} {} {}", what, when, place,
                               bath.kind == Amount::areal_mass ? "mass for an area" : "thickness");
    rule.place = at.empty() ? "face centre" : at;
  }
  if (auto input = read_quantity(node, rule, f.path("thickness"), step, context_))
    bath.amount = context_.add(std::move(*input));
}

}  // namespace mintspread::specs
