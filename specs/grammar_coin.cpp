#include "specs/grammar_forms.hpp"

namespace mintspread::specs {

namespace {

const Table& layer_table() {
  static const Table table{
      "layer of the section",
      with_metal({{"name", text("upper"), "Name of the layer.", Need::required},
                  {"material", text("nickel"), "Name in the materials handbook.", Need::required},
                  {"thickness", quantity("6 um"), "On the face.", Need::required},
                  {"rim thickness", quantity("8 um"), "On the rim; by default as on the face. The core has none."}})};
  return table;
}

const Table& section_table() {
  static const Table table{
      "section",
      {{"diameter", quantity("22 mm +/- 0.03 mm"), "Of the coin.", Need::required},
       {"rim width", quantity("0.9 mm"), "Of the rim, in the direction of the radius.", Need::required},
       {"rim height", mapping(rim_height_table), "Height of the rim over the field; by default 0."},
       {"core", text("core"), "Name of the layer that is the core; by default the thickest."},
       {"layers", list(mapping(layer_table), ItemPath::name), "From the upper face down.", Need::required}}};
  return table;
}

const Table& about_table() {
  static const Table table{
      "coin",
      {{"name", text("invented 22 mm"), "Name of the coin.", Need::required},
       {"state", text("worn to the steel at the rim"),
        "Age or wear, where the file tells of the coin in use: files with one name are one coin in several states."},
       {"construction", text("multi-layer"), "Single-layer, two-layer, multi-layer, solid: as you call it."},
       {"note", text(), "Anything worth saying."}}};
  return table;
}

const Table& group_table() {
  static const Table table{
      "group of pieces",
      {{"pieces", {.kind = Kind::count, .example = "40000"}, "Pieces in one unit of the group.", Need::required},
       {"from", text("strip lot"), "Group that each unit is part of."},
       {"mixes", text("3 barrel"), "Number and group of the units that run side by side here, in random order."},
       {"in turn",
        {.kind = Kind::count, .example = "6"},
        "So many of them stand in the plant and take turns, instead of a new one each time."}}};
  return table;
}

const Table& correlation_table() {
  static const Table table{
      "rank correlation",
      {{"between", list(text("bath.copper.thickness")), "Paths of two quantities that vary.", Need::required},
       {"rank",
        {.kind = Kind::number, .example = "0.6"},
        "Spearman's rank correlation, between -1 and 1.",
        Need::required}}};
  return table;
}

}  // namespace

const Table& coin_table() {
  static const Table table{
      "coin file",
      {{"format", choice({"mintspread coin 1"}), format_about, Need::required},
       {"coin", mapping(about_table), "What the coin is called.", Need::required},
       {"materials",
        {.kind = Kind::files, .example = "materials/handbook.yaml"},
        "Materials handbooks; later files override earlier ones.",
        Need::required},
       {"sensor", {.kind = Kind::file, .example = "sensors/bench.yaml"}, "Sensor file.", Need::required},
       {"windows", {.kind = Kind::files, .example = "windows/classes.yaml"}, "Window files."},
       {"groups", named(mapping(group_table)),
        "Groups of pieces that share a value; `piece` and `reading` always exist."},
       {"route", list(mapping(step_table), ItemPath::step), "Steps in the order of manufacture.", Need::optional, "/"},
       {"section", mapping(section_table), "A coin known by its cross-section."},
       {"correlations", list(mapping(correlation_table)), "Rank correlations between quantities."},
       {"targets", named(limits(">= 99.9 %")),
        "`accepted`, or `accepted by` and a class: what decides the exit status."}},
      {"route", "section"}};
  return table;
}

}  // namespace mintspread::specs
