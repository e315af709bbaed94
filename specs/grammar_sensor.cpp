#include "specs/grammar_forms.hpp"

namespace mintspread::specs {

namespace {

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

}  // namespace

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

}  // namespace mintspread::specs
