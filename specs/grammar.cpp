#include "specs/grammar.hpp"

#include <algorithm>
#include <deque>

namespace mintspread::specs {

namespace {

using Kind = Form::Kind;

Form text(std::string example = {}) { return {.kind = Kind::text, .example = std::move(example)}; }
Form choice(std::vector<std::string> choices) { return {.kind = Kind::choice, .choices = std::move(choices)}; }
Form constant(std::string example) { return {.kind = Kind::constant, .example = std::move(example)}; }
Form quantity(std::string example) {
  return {.kind = Kind::quantity, .table = quantity_table, .example = std::move(example)};
}
Form mapping(const Table& (*table)()) { return {.kind = Kind::mapping, .table = table}; }
Form limits(std::string example) { return {.kind = Kind::limits, .example = std::move(example)}; }

/// A form that others point to lives as long as the program.
const Form* keep(Form form) {
  static std::deque<Form> kept;
  return &kept.emplace_back(std::move(form));
}
Form named(Form of) { return {.kind = Kind::named, .of = keep(std::move(of))}; }
Form list(Form of, ItemPath items = ItemPath::position) {
  return {.kind = Kind::list, .of = keep(std::move(of)), .items = items};
}

constexpr const char* format_about = "Kind and version of this file.";

// Quantities

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

const Table& constituent_table() {
  static const Table table{"element of a composition",
                           {{"part", constant("70 %"), "Of the mass; a single element is all of it."},
                            {"valence",
                             {.kind = Kind::number, .example = "2"},
                             "Electrons that deposit one atom: 2 for Ni(II); needed for a bath told by its current."}}};
  return table;
}

Key composition_key() {
  return {"composition", named(mapping(constituent_table)), "Elements by their symbols, by mass."};
}

// Coin

std::vector<Key> metal_keys() {
  return {{"conductivity", quantity("57 MS/m +/- 3 %"), "At 20 degC, instead of the handbook's."},
          {"permeability", quantity("1"), "Relative, initial, instead of the handbook's."},
          {"density", quantity("8.93 g/cm3"), "Instead of the handbook's."},
          composition_key(),
          {"temperature coefficient", quantity("3.9e-3 1/K"), "Of resistivity at 20 degC, instead of the handbook's."}};
}

std::vector<Key> with_metal(std::vector<Key> keys) {
  for (Key& key : metal_keys()) keys.push_back(std::move(key));
  return keys;
}

const Table& change_table() {
  static const Table table{
      "change of a metal's properties",
      {{"conductivity", quantity("1.02"), "Factor on the conductivity; 1 where nothing is stated."},
       {"permeability", quantity("1.3"), "Factor on the permeability; 1 where nothing is stated."}}};
  return table;
}

Form changes() { return named(mapping(change_table)); }

const Table& half_table() {
  static const Table table{"state of half softening",
                           {{"at", constant("300 degC"), "Temperature.", Need::required},
                            {"in", constant("60 min"), "Time at it that softens by half.", Need::required}}};
  return table;
}

const Table& curve_table() {
  static const Table table{
      "point of a curve over the temperature of an anneal",
      {{"at", constant("550 degC"), "Temperature of the pieces.", Need::required},
       {"conductivity", {.kind = Kind::number, .example = "1.02"}, "Factor on the conductivity; by default 1."},
       {"permeability", {.kind = Kind::number, .example = "1.2"}, "Factor on the permeability; by default 1."}}};
  return table;
}

const Table& heat_table() {
  static const Table table = [] {
    Table made = change_table();
    made.title = "change of a metal's properties by heat";
    made.keys.push_back({"half softened", list(mapping(half_table)),
                         "Two states of half softening: the factors then follow the drawn heat by a rate law."});
    made.keys.push_back({"exponent", {.kind = Kind::number, .example = "1.5"}, "Of the rate law; by default 1."});
    made.keys.push_back({"curve", list(mapping(curve_table)),
                         "Factors over the drawn temperature, at the time of this anneal; the others multiply it."});
    return made;
  }();
  return table;
}

const Table& rim_height_table() {
  static const Table table{"height of the rim over the field",
                           {{"up", quantity("0.12 mm"), "On the obverse, which is the upper face."},
                            {"down", quantity("0.10 mm"), "On the reverse."}}};
  return table;
}

const Table& blank_table() {
  static const Table table{
      "blank", with_metal({{"material", text("low-carbon steel"), "Name in the materials handbook.", Need::required},
                           {"thickness", quantity("1.45 mm +/- 0.03 mm"), "Of the strip.", Need::required},
                           {"rimmed diameter", quantity("21.8 mm +/- 0.03 mm"), "After upsetting, before plating.",
                            Need::required}})};
  return table;
}

const Table& bath_table() {
  static const Table table{
      "bath",
      with_metal(
          {{"name", text("copper"), "Name of the layer.", Need::required},
           {"material", text("copper"), "Name in the materials handbook.", Need::required},
           {"thickness",
            {.kind = Kind::quantity, .table = thickness_table, .example = "18 um +/- 2 um"},
            "A length, a mass for an area (`22 mg/cm2`), or `5.5 % of mass` of the finished piece. Needed unless "
            "the current tells it."},
           {"current", quantity("1300 A +/- 2 % per barrel"),
            "Through the whole load: with `time` and `efficiency` it gives the thickness by Faraday's laws."},
           {"time", quantity("210 min"), "That the current flows."},
           {"efficiency", quantity("97 % .. 100 %"), "Part of the charge that deposits metal, at the cathode."},
           {"piece to piece",
            {.kind = Kind::short_or_mapping, .table = variation_table, .example = "9 %"},
            "Coefficient of variation of the thickness within a load; by default 0."},
           {"rim to face", quantity("2.2 +/- 0.4"), "Rim thickness over face-centre thickness; by default 1."},
           {"mean to centre", quantity("1.1"), "Face-mean over face-centre thickness; by default 1."},
           {"minimum to mean", quantity("0.8"),
            "Local minimum over mean thickness; needed where the thickness is a local minimum."}})};
  return table;
}

const Table& load_table() {
  static const Table table{"load",
                           {{"name", text("second"), "Tells several loads apart."},
                            {"filled area", quantity("34.4 m2 +/- 4 % per barrel"),
                             "Surface of all the pieces in the load: one draw for every bath of it."},
                            {"pieces", quantity("40000 +/- 4 % per barrel"),
                             "Number of pieces in the load, instead: the area follows from the nominal blank."}},
                           {"filled area", "pieces"}};
  return table;
}

const Table& removal_table(const char* title) {
  static std::deque<Table> tables;
  return tables.emplace_back(
      Table{title,
            {{"name", text("before nickel"), "Tells several of them apart."},
             {"thickness", quantity("0.4 um +/- 0.1 um per barrel"), "What goes off each face.", Need::required},
             {"rim to face", quantity("1.5"), "What goes off the rim, over what goes off the face; by default 1."}}});
}

const Table& pickle_table() {
  static const Table& table = removal_table("pickle");
  return table;
}

const Table& burnish_table() {
  static const Table& table = removal_table("burnish");
  return table;
}

const Table& profile_table() {
  static const Table table{
      "point of a furnace profile",
      {{"at", constant("12 min"), "Time since the beginning.", Need::required},
       {"temperature", constant("850 degC"), "Then; evenly on to the next point.", Need::required}}};
  return table;
}

const Table& anneal_table() {
  static const Table table{
      "anneal",
      {{"name", text("final"), "Tells several anneals apart."},
       {"temperature", quantity("580 degC +/- 12 degC"), "Of the pieces.", Need::required},
       {"time", quantity("30 min +/- 3 min"), "At temperature.", Need::required},
       {"place in the charge", quantity("+/- 8 K"), "Difference from the stated temperature, by where pieces lie."},
       {"profile", list(mapping(profile_table)),
        "Furnace profile of the pieces, heating and cooling too; by default they are hot and cold at once."},
       {"diffusion", choice({"computed", "left out"}),
        "Whether copper and nickel layers blur; by default computed above 600 degC."},
       {"sealed under", list(text("inner nickel")),
        "Baths whose inner boundary is taken to stay sharp, such as the one on the steel."},
       {"changes", named(mapping(heat_table)), "Factors by step: `blank` or the name of a bath before this anneal."}}};
  return table;
}

const Table& strike_table() {
  static const Table table{
      "strike",
      {{"collar", quantity("22 mm +/- 0.01 mm"), "Inner diameter of the collar: the coin's diameter.", Need::required},
       {"rim thickness", quantity("1.75 mm +/- 0.05 mm"), "Rim to rim, set by the press.", Need::required},
       {"rim width", quantity("0.9 mm"), "Of the rim, in the direction of the radius.", Need::required},
       {"rim height", mapping(rim_height_table),
        "Height of the rim over the field; volume gives the sum, these the split.", Need::required},
       {"changes", changes(), "Factors by step: `blank` or the name of a bath."}}};
  return table;
}

const Table& sort_table() {
  static const Table table{
      "sort",
      {{"name", text("after copper"), "Name of the sort.", Need::required},
       {"channel", text("skin"), "Channel of the sensor that is read here, with this sort's own error."},
       {"gauge", choice({"thickness", "diameter", "mass"}), "Dimension that is read here, rim to rim for a thickness."},
       {"layer", text("copper"), "Bath whose thickness at the face centre is read here."},
       {"limits", limits("18 um .. 26 um"), "What reads outside leaves the route, or is reworked.", Need::required},
       {"bias", quantity("0.2 um"), "What the reading shows too much; by default 0."},
       {"repeatability", quantity("0.5 um"), "Standard deviation of one reading; by default 0."},
       {"per", text("barrel"), "Group that is kept or not as a whole, by the mean of its test pieces."},
       {"test pieces", {.kind = Kind::count, .example = "5"}, "Pieces read of each; by default 1, at most 100."},
       {"back to", text("bath.copper"), "Step that what is out goes back to, instead of being scrapped."},
       {"times", {.kind = Kind::count, .example = "2"}, "Reworks at most before scrapping; by default 1, at most 9."}},
      {"channel", "gauge", "layer"}};
  return table;
}

const Table& read_table() {
  static const Table table{
      "reading",
      {{"name", text("blanks"), "Name of the reading.", Need::required},
       {"channel", text("skin"), "Channel of the sensor that is read here, with this reading's own error."},
       {"gauge", choice({"thickness", "diameter", "mass"}), "Dimension that is read here, rim to rim for a thickness."},
       {"layer", text("copper"), "Bath whose thickness at the face centre is read here."},
       {"bias", quantity("0.2 um"), "What the reading shows too much; by default 0."},
       {"repeatability", quantity("0.5 um"), "Standard deviation of one reading; by default 0."},
       {"per", text("barrel"), "Group that is read as a whole, by the mean of its test pieces."},
       {"test pieces", {.kind = Kind::count, .example = "5"}, "Pieces read of each; by default 1, at most 100."}},
      {"channel", "gauge", "layer"}};
  return table;
}

const Table& step_table() {
  static const Table table{
      "step of the route",
      {{"blank", mapping(blank_table), "Strip, cut and rimmed."},
       {"load", mapping(load_table), "Filling of the barrel for the baths after it."},
       {"bath", mapping(bath_table), "One plating layer on faces and rim."},
       {"pickle", mapping(pickle_table), "Takes metal off the outermost layer."},
       {"burnish", mapping(burnish_table), "Takes metal off the outermost layer."},
       {"anneal", mapping(anneal_table), "Heat treatment: factors on properties, diffusion of copper and nickel."},
       {"strike", mapping(strike_table), "The press."},
       {"sort", mapping(sort_table), "Takes pieces or loads out by what they read at this stage."},
       {"read", mapping(read_table), "Reads pieces or loads at this stage and lets them all go on."}},
      {},
      true};
  return table;
}

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

// Sensor

const Table& sensor_about_table() {
  static const Table table{"sensor",
                           {{"name", text("bench sensor"), "Name of the sensor.", Need::required},
                            {"note", text(), "Anything worth saying."}}};
  return table;
}

const Table& slot_table() {
  static const Table table{
      "slot",
      {{"width", quantity("3.2 mm"), "Wall to wall.", Need::required},
       {"rest", choice({"below", "above"}), "The wall the coin lies against; by default below."},
       {"play", quantity("0.05 mm +/- 0.05 mm"), "Distance of the coin's rim from the wall it rests on; by default 0."},
       {"side up", choice({"obverse", "reverse", "either"}), "By default either: half of the readings each."},
       {"temperature", quantity("20 degC +/- 3 degC"), "Of the coin when read; by default 20 degC."}}};
  return table;
}

const Table& coil_table() {
  static const Table table{
      "coil",
      {{"side", choice({"above", "below"}), "The wall the coil stands behind.", Need::required},
       {"inner radius", constant("2 mm"), "Of the winding.", Need::required},
       {"outer radius", constant("5 mm"), "Of the winding.", Need::required},
       {"length", constant("2 mm"), "Of the winding, along its axis.", Need::required},
       {"turns", {.kind = Kind::number, .example = "200"}, "Number of turns.", Need::required},
       {"recess", quantity("0.3 mm"), "From the wall's coin side to the near face of the winding.", Need::required}}};
  return table;
}

const Table& piece_layer_table() {
  static const Table table{
      "layer of a reference piece",
      {{"material", text("brass"), "Name in the materials handbook; its nominal values are taken."},
       {"thickness", constant("1.8 mm"), "Of the layer.", Need::required},
       {"conductivity", constant("16 MS/m"), "Instead of the handbook's."},
       {"permeability", {.kind = Kind::number, .example = "1"}, "Relative, instead of the handbook's."}}};
  return table;
}

const Table& reference_piece_table() {
  static const Table table{
      "reference piece",
      {{"layers", list(mapping(piece_layer_table)), "From its upper face down.", Need::required},
       {"diameter", constant("22 mm"), "Of a disc of one layer; without it the piece is wider than what coils see."},
       {"note", text(), "Anything worth saying."}}};
  return table;
}

const Table& channel_table() {
  static const Table table{
      "channel",
      {{"value",
        choice({"resistance", "reactance", "normalised resistance", "normalised reactance", "magnitude", "phase",
                "apparent diameter", "rim condition", "apparent conductivity", "decay", "rim thickness", "diameter",
                "mass", "expression"}),
        "What the channel tells.", Need::required},
       {"drive", text("face"), "Coil that carries the current."},
       {"receive", text("far"), "Coil that is listened to; by default the drive coil."},
       {"frequency", constant("240 kHz"), "Of the current."},
       {"time", constant("10 us"), "Centre of the gate after the current has begun to fall; for `decay`."},
       {"width", constant("2 us"), "Of the gate; by default 0."},
       {"ramp", constant("1 us"), "Time the current takes to fall; by default 0."},
       {"current", constant("1 A"), "Before switching off; by default 1 A."},
       {"expression", text("log(skin / core)"),
        "Formula of channels before this one; blanks in their names are written as underscores."},
       {"scale", named(constant("200 counts")), "Readings of two reference pieces, which fix a linear scale."},
       {"noise",
        {.kind = Kind::quantity, .table = quantity_table, .example = "0.5 counts"},
        "Standard deviation of one reading, or a quantity in the long form."},
       {"resolution", constant("1 counts"), "Step the reading is rounded to; by default none."},
       {"unit", text("mohm"), "Unit of the reading where the default is not wanted."}}};
  return table;
}

const Table& sensor_table() {
  static const Table table{
      "sensor file",
      {{"format", choice({"mintspread sensor 1"}), format_about, Need::required},
       {"sensor", mapping(sensor_about_table), "What the sensor is called.", Need::required, "/"},
       {"slot", mapping(slot_table), "Two parallel walls; the coin between them.", Need::required},
       {"coils", named(mapping(coil_table)), "Coaxial coils of rectangular section."},
       {"reference pieces", named(mapping(reference_piece_table)), "Discs that fix scales."},
       {"channels", named(mapping(channel_table)), "What the sensor tells, in this order.", Need::required}}};
  return table;
}

// Windows

const Table& relation_table() {
  static const Table table{"relation",
                           {{"expression", text("skin / core"),
                             "Formula of channels; blanks in their names are written as underscores.", Need::required},
                            {"limits", limits("1.9 .. 2.3"), "Of the expression.", Need::required}}};
  return table;
}

const Table& class_table() {
  static const Table table{"class of machines",
                           {{"note", text(), "Anything worth saying."},
                            {"windows", named(limits("410 .. 460")),
                             "Limits by channel, both ends included; without unit in the unit of the channel."},
                            {"relations", named(mapping(relation_table)), "Limits of expressions of channels."}}};
  return table;
}

const Table& windows_table() {
  static const Table table{"windows file",
                           {{"format", choice({"mintspread windows 1"}), format_about, Need::required},
                            {"note", text(), "Anything worth saying."},
                            {"classes", named(mapping(class_table)), "Classes of machines.", Need::required, "/"}}};
  return table;
}

// Materials

const Table& material_table() {
  static const Table table{"material",
                           {{"conductivity", quantity("58 MS/m"), "At 20 degC."},
                            {"permeability", quantity("1"), "Relative, initial."},
                            {"density", quantity("8.93 g/cm3"), "At 20 degC."},
                            {"temperature coefficient", quantity("3.93e-3 1/K"), "Of resistivity at 20 degC."},
                            composition_key(),
                            {"source", text("IEC 60028"), "Where the values come from."},
                            {"note", text(), "Anything worth saying."}}};
  return table;
}

const Table& materials_table() {
  static const Table table{"materials file",
                           {{"format", choice({"mintspread materials 1"}), format_about, Need::required},
                            {"note", text(), "Anything worth saying."},
                            {"materials", named(mapping(material_table)), "Metals by name.", Need::required, "/"}}};
  return table;
}

// Gauge

const Table& gauge_about_table() {
  static const Table table{"gauge",
                           {{"name", text("fluorescence bench"), "Name of the gauge.", Need::required},
                            {"note", text(), "Anything worth saying."}}};
  return table;
}

const Table& gauge_table() {
  static const Table table{
      "gauge file",
      {{"format", choice({"mintspread gauge 1"}), format_about, Need::required},
       {"gauge", mapping(gauge_about_table), "What the gauge is called.", Need::required, "/"},
       {"reads",
        choice({"layer thickness", "non-magnetic layers", "mass of an element", "weight gain", "chord of a section"}),
        "What a reading is of.", Need::required},
       {"layer", text("copper"), "Layer that is read, for a layer thickness and a chord."},
       {"element", text("Cu"), "Element whose mass is read."},
       {"at", choice({"face centre", "face mean", "rim"}), "Place of the reading."},
       {"pieces",
        {.kind = Kind::count, .example = "20"},
        "Pieces weighed together, a reading being told for one; by default 1."},
       {"tilt", constant("3 deg"), "Of a section off the normal, which makes its chords longer; by default 0."},
       {"range", text("2 um .. 40 um"), "Within which the other numbers hold."},
       {"bias", text("0.2 um"), "What a reading shows too much, or `2 %` of it; by default 0."},
       {"bias uncertainty", text("0.1 um"), "Standard uncertainty of the bias; by default 0."},
       {"repeatability", text("0.3 um"), "Standard deviation of one reading of one piece, or `2 %` of it.",
        Need::required}}};
  return table;
}

}  // namespace

const Key* Table::find(std::string_view name) const {
  const auto found = std::find_if(keys.begin(), keys.end(), [&](const Key& key) { return key.name == name; });
  return found == keys.end() ? nullptr : &*found;
}

const Table& quantity_table() {
  static const Table table = long_form();
  return table;
}

std::string_view name_of(FileKind kind) {
  constexpr std::string_view names[] = {"coin", "sensor", "windows", "materials", "gauge"};
  return names[static_cast<std::size_t>(kind)];
}

const Form& form_of(FileKind kind) {
  static const Form forms[] = {mapping(coin_table), mapping(sensor_table), mapping(windows_table),
                               mapping(materials_table), mapping(gauge_table)};
  return forms[static_cast<std::size_t>(kind)];
}

std::string_view path_root(FileKind kind) { return kind == FileKind::coin ? std::string_view{} : name_of(kind); }

}  // namespace mintspread::specs
