#include "specs/grammar_forms.hpp"

namespace mintspread::specs {

namespace {

std::vector<Key> metal_keys() {
  return {{"conductivity", quantity("57 MS/m +/- 3 %"), "At 20 degC, instead of the handbook's."},
          {"permeability", quantity("1"), "Relative, initial, instead of the handbook's."},
          {"density", quantity("8.93 g/cm3"), "Instead of the handbook's."},
          composition_key(),
          {"temperature coefficient", quantity("3.9e-3 1/K"), "Of resistivity at 20 degC, instead of the handbook's."}};
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
      with_metal({{"name", text("copper"), "Name of the layer.", Need::required},
                  {"material", text("copper"), "Name in the materials handbook.", Need::required},
                  {"thickness",
                   {.kind = Kind::quantity, .table = thickness_table, .example = "18 um +/- 2 um"},
                   "A length, a mass for an area (`22 mg/cm2`), the layer's mass on a piece (`230 mg`), or `5.5 % of "
                   "mass` of the "
                   "finished piece. Needed unless the current tells it."},
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
        "Whether layers blur into each other; by default computed above 600 degC."},
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

}  // namespace

std::vector<Key> with_metal(std::vector<Key> keys) {
  for (Key& key : metal_keys()) keys.push_back(std::move(key));
  return keys;
}

const Table& rim_height_table() {
  static const Table table{"height of the rim over the field",
                           {{"up", quantity("0.12 mm"), "On the obverse, which is the upper face."},
                            {"down", quantity("0.10 mm"), "On the reverse."}}};
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
       {"anneal", mapping(anneal_table), "Heat treatment: factors on properties, diffusion of layers."},
       {"strike", mapping(strike_table), "The press."},
       {"sort", mapping(sort_table), "Takes pieces or loads out by what they read at this stage."},
       {"read", mapping(read_table), "Reads pieces or loads at this stage and lets them all go on."}},
      {},
      true};
  return table;
}

}  // namespace mintspread::specs
