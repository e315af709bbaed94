#include "specs/grammar.hpp"

#include <algorithm>

#include "specs/grammar_forms.hpp"

namespace mintspread::specs {

namespace {

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

const Table& coefficient_table() {
  static const Table table{
      "coefficient of diffusion",
      {{"factor", constant("0.62 cm2/s"), "D0 in D = D0 exp(-Q / (R T)).", Need::required},
       {"activation energy", constant("223.8 kJ/mol"), "Q in D = D0 exp(-Q / (R T)).", Need::required}}};
  return table;
}

const Table& alloy_table() {
  static const Table table{"alloy of a pair",
                           {{"part", constant("25 %"), "Of the mass, that is the second element.", Need::required},
                            {"resistivity", constant("35.1 uohm cm"), "At 20 degC, annealed.", Need::required}}};
  return table;
}

const Table& pair_table() {
  static const Table table{
      "pair of metals that diffuse into each other",
      {{"between", list(text("Ni")), "Symbols of the first and the second element.", Need::required},
       {"first in second", mapping(coefficient_table), "Of the first, dilute in the second.", Need::required},
       {"second in first", mapping(coefficient_table), "Of the second, dilute in the first.", Need::required},
       {"first magnetic up to", constant("33.8 %"),
        "Part of the mass that is the second, up to which the first stays magnetic at 20 degC."},
       {"second magnetic up to", constant("33.8 %"),
        "Part of the mass that is the first, up to which the second stays magnetic at 20 degC."},
       {"resistivity", list(mapping(alloy_table)), "Of the pure metals and their alloys, by rising part.",
        Need::required},
       {"source", text("J. Phys. Chem. Ref. Data 12, 183"), "Where the values come from."},
       {"note", text(), "Anything worth saying."}}};
  return table;
}

const Table& materials_table() {
  static const Table table{"materials file",
                           {{"format", choice({"mintspread materials 1"}), format_about, Need::required},
                            {"note", text(), "Anything worth saying."},
                            {"materials", named(mapping(material_table)), "Metals by name.", Need::required, "/"},
                            {"diffusion", list(mapping(pair_table)),
                             "Pairs of metals whose layers blur in a hot anneal, besides copper and nickel."}}};
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
       {"bias degrees of freedom",
        {.kind = Kind::number, .example = "8"},
        "Of that uncertainty, 1 or more, as on a certificate; by default it is taken as known."},
       {"repeatability", text("0.3 um"), "Standard deviation of one reading of one piece, or `2 %` of it.",
        Need::required},
       {"basis", text("measured n=30"),
        "Where the repeatability comes from, as for quantities; n: readings of one piece that it was found from."}}};
  return table;
}

}  // namespace

const Key* Table::find(std::string_view name) const {
  const auto found = std::find_if(keys.begin(), keys.end(), [&](const Key& key) { return key.name == name; });
  return found == keys.end() ? nullptr : &*found;
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
