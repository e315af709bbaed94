#include "engine/signature/planar.hpp"

#include <catch2/catch.hpp>
#include <vector>

#include "tests/reference/planar_referee.hpp"

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using reference::Complex;
using reference::Layer;
using reference::Stacks;

constexpr Coil coil_p{5e-3, 8e-3, 2e-3, 100};

Complex impedance(Coupling coupling, const std::vector<Layer>& layers, double frequency) {
  const Stacks stack(layers, 2e-3);
  const std::vector<Complex> s{{0.0, 2.0 * pi * frequency}};
  const PlanarRule rule = make_rule(coil_p, coil_p, coupling, s, stack.block());
  Columns out(2, 8);
  mutual_inductance(rule, s, stack.block(), out);
  const Complex m{out[0][3], out[1][3]};
  return coupling == Coupling::reflected ? m * s[0] : m;
}

// Computed for this project from the equations of Dodd & Deeds (1968) and Cheng, Dodd & Deeds (1971) by three
// independent programs that agree in all digits printed; tolerance: the declared 1e-6.
TEST_CASE("a coil over nickel on steel has the impedance change of the exact integral") {
  const std::vector<Layer> a{{25e-6, 14e6, 80}, {1.70e-3, 5.8e6, 150}, {25e-6, 14e6, 80}};
  const Complex expected[] = {
      {4.550541116e-2, 3.147557478e-1}, {1.125201068e+1, -3.457094176e-1}, {7.551189824e+1, -2.596102408e+2}};
  const double frequency[] = {1e3, 6e4, 1e6};
  for (int i = 0; i < 3; ++i)
    CHECK(std::abs(impedance(Coupling::reflected, a, frequency[i]) - expected[i]) < 1e-6 * std::abs(expected[i]));
  CHECK(std::abs(impedance(Coupling::transmitted, a, 1e3) - Complex{-5.978277419e-7, -3.677570914e-7}) < 1e-12);
  CHECK(self_inductance(coil_p) == Approx(1.522026643e-4).epsilon(1e-9));
}

}  // namespace
