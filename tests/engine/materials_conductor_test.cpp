#include <catch2/catch.hpp>
#include <cmath>

#include "engine/materials/conductor.hpp"

using namespace mintspread;
using namespace mintspread::materials;

TEST_CASE("skin depths of copper match a printed table") {
  // Copper at room temperature, resistivity 1.7e-8 ohm m, depth in mm to two digits: launchloop.com/SkinDepth (2023).
  // Half a unit of the last digit.
  const double conductivity = 1 / 1.7e-8;
  CHECK(skin_depth(conductivity, 1, 60) * 1e3 == Approx(8.5).margin(0.05));
  CHECK(skin_depth(conductivity, 1, 400) * 1e3 == Approx(3.3).margin(0.05));
  CHECK(skin_depth(conductivity, 1, 1e3) * 1e3 == Approx(2.1).margin(0.05));
  CHECK(skin_depth(conductivity, 1, 5e3) * 1e3 == Approx(0.93).margin(0.005));
  CHECK(skin_depth(conductivity, 1, 20e3) * 1e3 == Approx(0.46).margin(0.005));
  CHECK(skin_depth(conductivity, 1, 200e3) * 1e3 == Approx(0.15).margin(0.005));
  // Silicon steel, 5e-7 ohm m, relative permeability 700, same table.
  CHECK(skin_depth(2e6, 700, 60) * 1e3 == Approx(1.7).margin(0.05));
  CHECK(skin_depth(2e6, 700, 1e3) * 1e3 == Approx(0.43).margin(0.005));
}

TEST_CASE("copper of 100 % IACS has 1/58 ohm mm2/m") {
  // IEC 60028:1925, from memory: 1/58 = 0.017241... ohm mm2/m at 20 C.
  CHECK(1 / iacs_conductivity * 1e6 == Approx(0.017241).margin(5e-7));
  CHECK(iacs_fraction(58.0e6) == 1.0);
  CHECK(iacs_fraction(29.0e6) == 0.5);
}

TEST_CASE("one kelvin is 0.39 % of copper's conductivity") {
  // Temperature coefficient of annealed copper at 20 C, 0.00393 1/K: IEC 60028 (from memory).
  const double cold = conductivity_at(58e6, 3.93e-3, reference_temperature);
  const double warm = conductivity_at(58e6, 3.93e-3, reference_temperature + 1);
  CHECK(cold == 58e6);
  CHECK((cold - warm) / cold == Approx(3.9e-3).margin(5e-5));
  CHECK(1 / warm == Approx(1.00393 / 58e6).epsilon(1e-14));
}

TEST_CASE("a temperature at which the line of resistivity has reached zero gives no conductivity") {
  CHECK(std::isnan(conductivity_at(58e6, 3.93e-3, reference_temperature - 1 / 3.93e-3)));
  CHECK(std::isnan(conductivity_at(58e6, 3.93e-3, 0)));
}
