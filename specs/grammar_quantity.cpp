#include "specs/grammar_forms.hpp"

namespace mintspread::specs {

namespace {

const Table& data_table() {
  static const Table table{
      "measured data",
      {{"file", {.kind = Kind::file, .example = "gauge.csv"}, "CSV file, relative to this one.", Need::required},
       {"column", text("thickness_um"), "Heading of the column.", Need::required},
       {"unit", text("um"), "Unit of the numbers in the column; nothing for pure numbers."},
       {"smooth",
        {.kind = Kind::flag},
        "Draw from a normal kernel of Silverman's width instead of between order statistics."},
       {"gauge",
        {.kind = Kind::file, .example = "gauges/bench.yaml"},
        "Gauge file: its bias and its part of the spread are taken off."}}};
  return table;
}

std::vector<std::string> part_shapes() {
  return {"normal",    "truncated normal",     "lognormal", "uniform", "triangular", "two-piece normal", "arcsine",
          "student t", "curvilinear trapezoid"};
}

std::vector<Key> shape_keys(std::vector<std::string> shapes, Need value) {
  return {
      {"value", text("18 um +/- 2 um"), "Nominal value, tolerance and `per` group, in the short form.", value},
      {"shape", choice(std::move(shapes)),
       "Shape of the distribution; by default normal, or two-piece normal or uniform where the tolerance asks for it."},
      {"sd", text("0.6 um"), "Standard deviation, or `3 %` of the value, instead of deriving it from the tolerance."},
      {"coverage", text("99.73 %"), "Part of production within the tolerance: sets the standard deviation."},
      {"capability", {.kind = Kind::number, .example = "1.33"}, "Cp: the standard deviation is tolerance / (3 Cp)."},
      {"degrees of freedom", {.kind = Kind::number, .example = "8"}, "Of Student's t, above 2."},
      {"edge", text("0.2 um"), "How well the limits of a curvilinear trapezoid are known."}};
}

const Table& part_table() {
  static const Table table = [] {
    Table made{"part of a mixture", shape_keys(part_shapes(), Need::required)};
    made.keys.insert(made.keys.begin(),
                     {"weight", text("70 %"), "Part of production; the weights add up to 100 %.", Need::required});
    return made;
  }();
  return table;
}

Table long_form() {
  std::vector<std::string> shapes = part_shapes();
  shapes.insert(shapes.end(), {"mixture", "measured"});
  Table table{"quantity, long form", shape_keys(std::move(shapes), Need::optional)};
  for (Key key : std::vector<Key>{
           {"per", text("strip lot"),
            "Level of variation where `value` does not state it: a group, `piece` or `reading`."},
           {"sorted", {.kind = Kind::flag}, "Pieces outside of the tolerance are cut out by a perfect gauge."},
           {"varies",
            {.kind = Kind::spreads, .example = "8 % per strip lot"},
            "Further components of spread: a bare number is a standard deviation, `+/-` a tolerance."},
           {"drift", text("falling over 12 barrel"),
            "Goes evenly through the tolerance over so many units of a group, then begins anew: rising or falling."},
           {"known to", text("100 .. 200"), "Range of a value that is fixed in this plant but not known."},
           {"basis", text("measured n=40"), "measured, handbook, supplier, guess or drawing; a note may follow."},
           {"data", mapping(data_table), "Measured values."},
           {"parts", list(mapping(part_table)), "Parts of a mixture."}})
    table.keys.push_back(std::move(key));
  return table;
}

const Table& constituent_table() {
  static const Table table{"element of a composition",
                           {{"part", constant("70 %"), "Of the mass; a single element is all of it."},
                            {"valence",
                             {.kind = Kind::number, .example = "2"},
                             "Electrons that deposit one atom: 2 for Ni(II); needed for a bath told by its current."}}};
  return table;
}

}  // namespace

const Table& thickness_table() {
  static const Table table = [] {
    Table made = long_form();
    made.title = "thickness of a plating layer, long form";
    made.keys.push_back({"at", choice({"face centre", "face mean", "rim"}),
                         "Place of the stated thickness; by default the face centre."});
    made.keys.push_back(
        {"stage", choice({"as plated", "struck"}), "When the stated thickness holds; by default as plated."});
    made.keys.push_back(
        {"statistic", choice({"mean", "local minimum"}), "What the stated thickness is; by default the mean."});
    return made;
  }();
  return table;
}

const Table& variation_table() {
  static const Table table{
      "variation from piece to piece, long form",
      {{"sd", text("9 %"), "Coefficient of variation."},
       {"surfacings",
        {.kind = Kind::number, .example = "300"},
        "How often a piece comes to the surface of the load in this bath, instead of `sd`."},
       {"each", text("80 %"), "Coefficient of variation of what one surfacing deposits; by default 100 %."},
       {"floor", text("4 %"), "Coefficient of variation that no number of surfacings evens out; by default 0."},
       {"shape", choice({"normal", "lognormal"}), "Shape of the factor's distribution; by default normal."},
       {"basis", text("measured n=40"), "measured, handbook, supplier, guess or drawing; a note may follow."}},
      {"sd", "surfacings"}};
  return table;
}

Key composition_key() {
  return {"composition", named(mapping(constituent_table)), "Elements by their symbols, by mass."};
}

const Table& quantity_table() {
  static const Table table = long_form();
  return table;
}

}  // namespace mintspread::specs
