#include "specs/unit.hpp"

#include <udunits2.h>

#include <algorithm>
#include <cctype>
#include <memory>
#include <mutex>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/base/nearest.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t longest_unit = 40;
constexpr int largest_power = 9;

struct FreeUnit {
  void operator()(ut_unit* unit) const { ut_free(unit); }
};
using OwnedUnit = std::unique_ptr<ut_unit, FreeUnit>;

/// udunits2's system of the units that may be written in a specification.
class UnitSystem {
 public:
  UnitSystem() : system_(ut_new_system()) {
    expect(system_ != nullptr, "udunits2 makes a system of units");
    ut_set_error_message_handler(ut_ignore);
    for (const char* symbol : {"m", "kg", "s", "A", "K", "mol"})
      base_.push_back(own(ut_new_base_unit(system_), {symbol}));
    for (const char* symbol : {"rad", "counts"}) base_.push_back(own(ut_new_dimensionless_unit(system_), {symbol}));
    struct Derived {
      const char* text;
      std::vector<const char*> symbols;
    };
    // The definitions follow the SI brochure, 9th edition, tables 4, 7 and 8.
    const std::vector<Derived> all = {{"0.001 kg", {"g"}},
                                      {"60 s", {"min"}},
                                      {"3600 s", {"h"}},
                                      {"s-1", {"Hz"}},
                                      {"kg.m.s-2", {"N"}},
                                      {"N.m-2", {"Pa"}},
                                      {"N.m", {"J"}},
                                      {"J.s-1", {"W"}},
                                      {"A.s", {"C"}},
                                      {"W.A-1", {"V"}},
                                      {"V.A-1", {"ohm", "Ohm", "\u03A9", "\u2126"}},
                                      {"A.V-1", {"S"}},
                                      {"V.s", {"Wb"}},
                                      {"Wb.m-2", {"T"}},
                                      {"Wb.A-1", {"H"}},
                                      {"counts", {"count"}}};
    struct Prefix {
      const char* symbol;
      double value;
    };
    for (const Prefix prefix : {Prefix{"T", 1e12},
                                {"G", 1e9},
                                {"M", 1e6},
                                {"k", 1e3},
                                {"d", 1e-1},
                                {"c", 1e-2},
                                {"m", 1e-3},
                                {"u", 1e-6},
                                {"\u00B5", 1e-6},
                                {"\u03BC", 1e-6},
                                {"n", 1e-9},
                                {"p", 1e-12}})
      expect(ut_add_symbol_prefix(system_, prefix.symbol, prefix.value) == UT_SUCCESS, "a prefix is defined once");
    for (const Derived& derived : all) map(ut_parse(system_, derived.text, UT_UTF8), derived.symbols);
    map(ut_scale(pi / 180, base_[Dimension::radian].get()), {"deg", "\u00B0"});
    map(ut_offset(base_[Dimension::kelvin].get(), celsius_zero), {"degC", "\u00B0C"});
  }

  OwnedUnit parse(const std::string& text) const { return OwnedUnit(ut_parse(system_, text.c_str(), UT_UTF8)); }
  std::size_t position(const ut_unit* unit) const {
    const auto found = std::find_if(base_.begin(), base_.end(),
                                    [&](const OwnedUnit& base) { return ut_compare(base.get(), unit) == 0; });
    expect(found != base_.end(), "a unit is made of the base units defined here");
    return static_cast<std::size_t>(found - base_.begin());
  }
  /// Usual spellings, for hints.
  const std::vector<std::string>& usual() const { return usual_; }

 private:
  OwnedUnit own(ut_unit* unit, const std::vector<const char*>& symbols) {
    map(unit, symbols, false);
    return OwnedUnit(unit);
  }
  void map(ut_unit* unit, const std::vector<const char*>& symbols, bool release = true) {
    expect(unit != nullptr, "a unit's definition can be read");
    for (const char* symbol : symbols)
      expect(ut_map_symbol_to_unit(symbol, UT_UTF8, unit) == UT_SUCCESS, "a unit is defined once");
    if (release) ut_free(unit);
  }

  ut_system* system_;  // lives as long as the program
  std::vector<OwnedUnit> base_;
  std::vector<std::string> usual_ = {
      "um",   "mm",   "nm",  "cm",    "m",     "mg",     "g",   "kg",  "us",     "ms",     "s",  "min", "h",
      "Hz",   "kHz",  "MHz", "K",     "degC",  "1/K",    "A",   "mA",  "V",      "mV",     "uV", "ohm", "mohm",
      "uohm", "MS/m", "S/m", "g/cm3", "kg/m3", "mg/cm2", "deg", "rad", "counts", "% IACS", "%"};
};

/// Scale, offset and powers of a parsed unit: what ut_are_convertible does not tell, since it takes a time for a
/// frequency.
struct Taken {
  const UnitSystem* system;
  double scale = 1, offset = 0;
  Dimension dimension;
  bool understood = true;
};

ut_status take_basic(const ut_unit* unit, void* to) {
  auto& taken = *static_cast<Taken*>(to);
  taken.dimension.power[taken.system->position(unit)] = 1;
  return UT_SUCCESS;
}

ut_status take_product(const ut_unit*, int count, const ut_unit* const* units, const int* powers, void* to) {
  auto& taken = *static_cast<Taken*>(to);
  for (int i = 0; i < count; ++i) {
    taken.dimension.power[taken.system->position(units[i])] = powers[i];
    if (std::abs(powers[i]) > largest_power) taken.understood = false;
  }
  return UT_SUCCESS;
}

ut_status take_galilean(const ut_unit*, double scale, const ut_unit* underlying, double offset, void* to);

ut_status take_timestamp(const ut_unit*, const ut_unit*, double, void* to) {
  static_cast<Taken*>(to)->understood = false;
  return UT_SUCCESS;
}

ut_status take_logarithmic(const ut_unit*, double, const ut_unit*, void* to) {
  static_cast<Taken*>(to)->understood = false;
  return UT_SUCCESS;
}

const ut_visitor& visitor() {
  static const ut_visitor all = {take_basic, take_product, take_galilean, take_timestamp, take_logarithmic};
  return all;
}

ut_status take_galilean(const ut_unit*, double scale, const ut_unit* underlying, double offset, void* to) {
  auto& taken = *static_cast<Taken*>(to);
  taken.scale *= scale;
  taken.offset = offset;
  return ut_accept_visitor(underlying, &visitor(), to);
}

/// Whether the text has the form [1/] symbol[power] { (blank * . /) symbol[power] }: udunits2 itself also reads
/// numbers, times of day and logarithms.
std::optional<TextFault> badly_formed(std::string_view text) {
  std::size_t i = text.starts_with("1/") ? 2 : 0;
  const auto letter = [&] {
    return i < text.size() &&
           (std::isalpha(static_cast<unsigned char>(text[i])) || static_cast<unsigned char>(text[i]) >= 0x80);
  };
  while (true) {
    const std::size_t begin = i;
    while (letter()) ++i;
    if (i == begin)
      return TextFault{i, "`" + std::string(text) + "` is not a unit",
                       "Units are products of SI units, such as `um`, `MS/m`, `g/cm3`, `1/K`."};
    if (i < text.size() && text[i] == '^') ++i;
    if (i + 1 < text.size() && text[i] == '-' && std::isdigit(static_cast<unsigned char>(text[i + 1]))) ++i;
    if (i < text.size() && std::isdigit(static_cast<unsigned char>(text[i]))) ++i;
    if (i == text.size()) return std::nullopt;
    if (std::string_view(" *./").find(text[i]) != std::string_view::npos)
      ++i;
    else
      return TextFault{i, "`" + std::string(text) + "` is not a unit",
                       "Units are products of SI units, such as `um`, `MS/m`, `g/cm3`, `1/K`."};
  }
}

std::string remedy_for(const std::string& text, const UnitSystem& system) {
  for (const auto& [wrong, right] : {std::pair{"micron", "um"},
                                     {"microns", "um"},
                                     {"mic", "um"},
                                     {"mu", "um"},
                                     {"C", "degC"},
                                     {"celsius", "degC"},
                                     {"sec", "s"},
                                     {"hr", "h"},
                                     {"IACS", "% IACS"},
                                     {"Khz", "kHz"},
                                     {"ohms", "ohm"},
                                     {"oC", "degC"}})
    if (text == wrong) return std::string("Write `") + right + "`.";
  const std::string_view near = nearest(text, system.usual());
  const auto small = [](std::string_view word) {
    std::string all(word);
    for (char& c : all) c = static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    return all;
  };
  if (!near.empty() && small(near) == small(text)) return "Write `" + std::string(near) + "`: capitals count.";
  return near.empty() ? "Units are products of SI units, such as `um`, `MS/m`, `g/cm3`, `1/K`."
                      : "Did you mean `" + std::string(near) + "`?";
}

}  // namespace

std::variant<MeasuredUnit, TextFault> unit_text(std::string_view text) {
  const std::string name = single_blanks(text);
  if (name.empty()) return MeasuredUnit{{}, dimension::pure};
  if (name == "%") return MeasuredUnit{{name, 0.01, 0}, dimension::pure};
  if (name == "% IACS") return MeasuredUnit{{name, 0.01 * iacs_conductivity, 0}, dimension::conductivity};
  if (name == "% of mass") return MeasuredUnit{{name, 0.01, 0}, dimension::mass_share};
  if (name.size() > longest_unit) return TextFault{0, "this is too long for a unit", ""};

  // udunits2's parser keeps its state in globals.
  static std::mutex one_at_a_time;
  const std::lock_guard lock(one_at_a_time);
  static const UnitSystem system;
  if (auto fault = badly_formed(name)) {
    fault->remedy = remedy_for(name, system);
    return *fault;
  }
  const OwnedUnit unit = system.parse(name);
  if (!unit) return TextFault{0, "`" + name + "` is not a unit known here", remedy_for(name, system)};
  Taken taken{&system, 1, 0, {}, true};
  if (ut_accept_visitor(unit.get(), &visitor(), &taken) != UT_SUCCESS || !taken.understood)
    return TextFault{0, "`" + name + "` is not a unit known here", remedy_for(name, system)};
  return MeasuredUnit{{name, taken.scale, taken.offset / taken.scale}, taken.dimension};
}

namespace {

struct Named {
  Dimension dimension;
  const char *name, *example;
};

const Named named_dimensions[] = {{dimension::pure, "a pure number", "1.5"},
                                  {dimension::length, "a length", "18 um"},
                                  {dimension::area, "an area", "34 m2"},
                                  {dimension::areal_mass, "a mass for an area", "22 mg/cm2"},
                                  {dimension::mass, "a mass", "5.1 g"},
                                  {dimension::density, "a density", "8.93 g/cm3"},
                                  {dimension::time, "a time", "30 min"},
                                  {dimension::frequency, "a frequency", "60 kHz"},
                                  {dimension::current, "a current", "1 A"},
                                  {dimension::temperature, "a temperature", "580 degC"},
                                  {dimension::per_kelvin, "a temperature coefficient", "3.9e-3 1/K"},
                                  {dimension::conductivity, "a conductivity", "58 MS/m"},
                                  {dimension::resistance, "a resistance", "10 mohm"},
                                  {dimension::resistivity, "a resistivity", "6.9 uohm cm"},
                                  {dimension::diffusion_coefficient, "a coefficient of diffusion", "0.6 cm2/s"},
                                  {dimension::molar_energy, "an energy for a mole", "220 kJ/mol"},
                                  {dimension::voltage, "a voltage", "5 mV"},
                                  {dimension::angle, "an angle", "30 deg"},
                                  {dimension::counts, "a number of counts", "200 counts"},
                                  {dimension::mass_share, "a share of the piece's mass", "5.5 % of mass"}};

}  // namespace

std::string name_of(const Dimension& wanted) {
  for (const Named& named : named_dimensions)
    if (named.dimension == wanted) return named.name;
  constexpr const char* symbols[] = {"m", "kg", "s", "A", "K", "mol", "rad", "counts", "% of mass"};
  std::string text = "a quantity in";
  for (std::size_t i = 0; i < Dimension::bases; ++i)
    if (wanted.power[i] != 0)
      text += std::string(" ") + symbols[i] + (wanted.power[i] == 1 ? "" : std::to_string(wanted.power[i]));
  return text;
}

std::string example_of(const Dimension& wanted) {
  for (const Named& named : named_dimensions)
    if (named.dimension == wanted) return named.example;
  return {};
}

}  // namespace mintspread::specs
