#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "engine/signature/planar.hpp"
#include "tests/reference/planar_referee.hpp"

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using reference::Complex;
using reference::Layer;
using reference::Stacks;

struct Corner {
  std::string name;
  Coil coil;
  double gaps;
  Coupling coupling;
  Complex s;
  std::vector<Layer> layers;
  Complex expected;  ///< H
};

Complex harmonic(double frequency) { return {0.0, 2.0 * pi * frequency}; }

// Computed for this project by tests/reference/planar.py (mpmath, 40 digits, transfer matrices, Struve functions):
// inductances of a coil with its equal, in H, in the corners of the declared range and where s leaves the imaginary
// axis.
TEST_CASE("corners of the declared range agree with 40-digit arithmetic") {
  const Coil bench{2e-3, 5e-3, 2e-3, 1}, small{0.2e-3, 0.5e-3, 0.5e-3, 1}, large{15e-3, 20e-3, 5e-3, 1};
  const Layer steel{1600e-6, 6.5e6, 120};
  const Corner corners[] = {
      {"half a micrometre of poor metal at 1 kHz",
       bench,
       0.8e-3,
       Coupling::reflected,
       harmonic(1e3),
       {{0.5e-6, 0.1e6, 1}},
       {-1.5241305398173802e-21, -1.4293194927373844e-15}},
      {"half a micrometre of copper at 10 MHz",
       bench,
       0.8e-3,
       Coupling::reflected,
       harmonic(1e7),
       {{0.5e-6, 60e6, 1}},
       {-1.9995297162005256e-9, -6.669116828097564e-10}},
      {"thick metal of permeability 1000 at 10 MHz",
       small,
       0.1e-3,
       Coupling::reflected,
       harmonic(1e7),
       {{4e-3, 60e6, 1000}},
       {1.680425404392056e-11, -3.303841196778734e-11}},
      {"the same at 1 kHz under a large coil far away",
       large,
       10e-3,
       Coupling::reflected,
       harmonic(1e3),
       {{4e-3, 60e6, 1000}},
       {6.3404888113010151e-9, -2.8784075115638008e-9}},
      {"a small coil far from nickel on steel",
       small,
       10e-3,
       Coupling::reflected,
       harmonic(6e4),
       {{25e-6, 13e6, 60}, steel},
       {-2.5029417122663494e-16, -1.4161533128738112e-14}},
      {"a large coil close to nickel on copper on steel",
       large,
       0.1e-3,
       Coupling::reflected,
       harmonic(2e4),
       {{8e-6, 13e6, 60}, {25e-6, 57e6, 1}, steel, {25e-6, 57e6, 1}, {8e-6, 13e6, 60}},
       {-1.7255931192524307e-8, -1.4080051362475342e-8}},
      {"insulating magnetic layer over a poor conductor",
       bench,
       0.8e-3,
       Coupling::reflected,
       harmonic(5e5),
       {{200e-6, 0, 30}, {1e-3, 0.5e6, 1}},
       {8.8197227839184745e-10, -7.8010166266022113e-11}},
      {"ten layers",
       bench,
       0.8e-3,
       Coupling::reflected,
       harmonic(2e5),
       {{3e-6, 10e6, 20},
        {2e-6, 8e6, 1},
        {15e-6, 56e6, 1},
        {1e-6, 12e6, 100},
        {2e-6, 1.1e6, 1},
        {300e-6, 7e6, 150},
        {500e-6, 3e6, 1},
        {30e-6, 37e6, 1},
        {5e-6, 12e6, 100},
        {20e-6, 56e6, 1}},
       {-1.767312623190026e-9, -9.2919299436570525e-10}},
      {"decay on the real axis",
       bench,
       0.8e-3,
       Coupling::reflected,
       3e5,
       {{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, steel},
       {-2.5477791726088228e-10, 0.0}},
      {"a contour point in the left half-plane",
       bench,
       0.8e-3,
       Coupling::reflected,
       {-2e5, 4e5},
       {{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, steel},
       {-1.1945012294344123e-9, -1.7491119930010988e-9}},
      {"a contour point in the left half-plane, white alloy",
       bench,
       0.8e-3,
       Coupling::reflected,
       {-3e5, 2e5},
       {{1.9e-3, 3e6, 1}},
       {-1.6056872899874701e-9, -8.5109536444022677e-10}},
      {"through a foil",
       bench,
       2e-3,
       Coupling::transmitted,
       harmonic(1e5),
       {{10e-6, 57e6, 1}},
       {9.2983139123271719e-10, -5.9317849307402802e-10}},
      {"through white alloy",
       bench,
       2e-3,
       Coupling::transmitted,
       harmonic(1e5),
       {{1.9e-3, 3e6, 1}},
       {-7.876173359307628e-11, -6.6807210383522786e-11}},
      {"through nickel on copper, thin",
       {1e-3, 3e-3, 2e-3, 1},
       1e-3,
       Coupling::transmitted,
       harmonic(2e4),
       {{20e-6, 13e6, 60}, {200e-6, 57e6, 1}, {20e-6, 13e6, 60}},
       {2.809712318063792e-11, -9.5668858085668208e-11}},
  };
  for (const Corner& corner : corners)
    for (const double tolerance : {1e-6, 1e-9}) {
      const Stacks stack(corner.layers, corner.gaps);
      const std::vector<Complex> s{corner.s};
      const PlanarRule rule = make_rule(corner.coil, corner.coil, corner.coupling, s, stack.block(), tolerance);
      Columns out(2, 8);
      mutual_inductance(rule, s, stack.block(), out);
      CAPTURE(corner.name, tolerance, rule.nodes.size(), out[0][0], out[1][0]);
      CHECK(std::abs(Complex(out[0][0], out[1][0]) - corner.expected) < tolerance * std::abs(corner.expected));
    }
}

}  // namespace
