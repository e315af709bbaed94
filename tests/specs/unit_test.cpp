#include "specs/unit.hpp"

#include <catch2/catch.hpp>
#include <cstdlib>

using namespace mintspread::specs;

namespace {

MeasuredUnit unit(const char* text) { return std::get<MeasuredUnit>(unit_text(text)); }
TextFault fault(const char* text) { return std::get<TextFault>(unit_text(text)); }

}  // namespace

TEST_CASE("units have the scale and the dimension of the SI brochure") {
  struct Row {
    const char* text;
    double scale;
    Dimension of;
  };
  // SI brochure, 9th edition: prefixes table 7, derived units tables 4 and 5, min and h table 8.
  const Row rows[] = {{"um", 1e-6, dimension::length},
                      {"\u00B5m", 1e-6, dimension::length},
                      {"\u03BCm", 1e-6, dimension::length},
                      {"mm", 1e-3, dimension::length},
                      {"nm", 1e-9, dimension::length},
                      {"cm", 1e-2, dimension::length},
                      {"mg/cm2", 1e-2, dimension::areal_mass},
                      {"g/m^2", 1e-3, dimension::areal_mass},
                      {"g/cm3", 1e3, dimension::density},
                      {"kg.m-3", 1, dimension::density},
                      {"g", 1e-3, dimension::mass},
                      {"min", 60, dimension::time},
                      {"h", 3600, dimension::time},
                      {"us", 1e-6, dimension::time},
                      {"kHz", 1e3, dimension::frequency},
                      {"1/us", 1e6, dimension::frequency},
                      {"MS/m", 1e6, dimension::conductivity},
                      {"1/ohm/m", 1, dimension::conductivity},
                      {"mohm", 1e-3, dimension::resistance},
                      {"m\u03A9", 1e-3, dimension::resistance},
                      {"V/A", 1, dimension::resistance},
                      {"uohm cm", 1e-8, dimension::resistivity},
                      {"cm2/s", 1e-4, dimension::diffusion_coefficient},
                      {"kJ/mol", 1e3, dimension::molar_energy},
                      {"mV", 1e-3, dimension::voltage},
                      {"A", 1, dimension::current},
                      {"1/K", 1, dimension::per_kelvin},
                      {"K", 1, dimension::temperature},
                      {"deg", 0.017453292519943295, dimension::angle},
                      {"rad", 1, dimension::angle},
                      {"counts", 1, dimension::counts},
                      {"%", 1e-2, dimension::pure},
                      {"", 1, dimension::pure},
                      {"% of mass", 1e-2, dimension::mass_share},
                      // 100 % IACS = 58 MS/m, IEC 60028:1925 (from memory)
                      {"% IACS", 0.58e6, dimension::conductivity}};
  for (const Row& row : rows) {
    INFO(row.text);
    CHECK(unit(row.text).unit.scale == Approx(row.scale).epsilon(1e-14));
    CHECK(unit(row.text).unit.offset == 0.0);
    CHECK(unit(row.text).dimension == row.of);
    CHECK(unit(row.text).unit.name == row.text);
  }
}

TEST_CASE("850 degC are 1123.15 K, and a difference of 5 degC is 5 K") {
  const mintspread::Unit celsius = unit("degC").unit;
  CHECK((850 + celsius.offset) * celsius.scale == Approx(1123.15).epsilon(1e-15));
  CHECK(5 * celsius.scale == 5.0);
  CHECK(celsius.from_si(1123.15) == Approx(850).epsilon(1e-14));
  CHECK(unit("\u00B0C").unit.offset == celsius.offset);
}

TEST_CASE("reciprocal and look-alike dimensions are kept apart") {
  CHECK_FALSE(unit("us").dimension == unit("kHz").dimension);
  CHECK_FALSE(unit("deg").dimension == unit("").dimension);
  CHECK_FALSE(unit("counts").dimension == unit("").dimension);
  CHECK_FALSE(unit("% of mass").dimension == unit("%").dimension);
  CHECK_FALSE(unit("ms").dimension == unit("MS").dimension);
}

TEST_CASE("what udunits2 would read beyond units is refused") {
  for (const char* text : {"um since 2000", "5 um", "2", "um @ 5", "lg(re 1 mW)", "um**2", "1000", "m-", "um;", "m99",
                           "1/", "um um um um um um um um um um um um um um um"}) {
    INFO(text);
    CHECK(std::holds_alternative<TextFault>(unit_text(text)));
  }
}

TEST_CASE("units that are none get the unit that was probably meant") {
  CHECK_THAT(fault("micron").remedy, Catch::Contains("`um`"));
  CHECK_THAT(fault("khz").remedy, Catch::Contains("`kHz`"));
  CHECK_THAT(fault("%IACS").remedy, Catch::Contains("`% IACS`"));
  CHECK_THAT(fault("inch").what, Catch::Contains("not a unit"));
}

TEST_CASE("no environment variable has a say in what a unit is") {
  ::setenv("UDUNITS2_XML_PATH", "/nonexistent/units.xml", 1);
  CHECK(unit("mm").unit.scale == 1e-3);
  ::unsetenv("UDUNITS2_XML_PATH");
}
