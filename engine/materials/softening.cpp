#include "engine/materials/softening.hpp"

#include <cmath>
#include <numbers>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::materials {

double Softening::done(double dose) const { return -std::expm1(-std::numbers::ln2 * std::pow(dose, exponent)); }

Softening softening(double first, double first_time, double second, double second_time, double exponent) {
  expect((first - second) * (first_time - second_time) < 0.0, "what is hotter softens sooner");
  const double over_r = std::log(first_time / second_time) / (1.0 / first - 1.0 / second);
  return {{std::exp(over_r / first) / first_time, over_r * gas_constant}, exponent};
}

}  // namespace mintspread::materials
