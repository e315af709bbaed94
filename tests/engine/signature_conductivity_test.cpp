#include <catch2/catch.hpp>
#include <cmath>
#include <complex>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/signature/conductivity_scale.hpp"
#include "tests/support/stack.hpp"

using namespace mintspread;
using namespace mintspread::signature;
using mintspread::test::Layer;
using mintspread::test::Stack;
using Complex = std::complex<double>;

namespace {

constexpr Coil coil_p{5e-3, 8e-3, 2e-3, 100};
constexpr double distance_p = 2e-3;

double phase_of(const Coil& drive, const Coil& receive, const Stack& stack, double frequency) {
  const Complex s(0, 2 * pi * frequency);
  Columns out(2, 8);
  mutual_inductance(make_rule(drive, receive, Coupling::reflected, std::span(&s, 1), stack.block(), 1e-9),
                    std::span(&s, 1), stack.block(), out);
  return std::arg(s * Complex(out[0][0], out[1][0]));
}

}  // namespace

TEST_CASE("the phase of a half-space gives its conductivity back") {
  // mpmath, tests/reference/half_space_phase.py.
  struct Row {
    double frequency, conductivity, phase;
  };
  for (const Row& row :
       {Row{1e3, 0.1e6, -0.123440485065438}, Row{1e3, 58e6, -1.12344248043355}, Row{20e3, 2.9e6, -1.12344248043355},
        Row{60e3, 14e6, -1.43653053661635}, Row{1e6, 0.5e6, -1.39909124507922}, Row{1e6, 58e6, -1.55401478815411}}) {
    const ConductivityScale scale(coil_p, coil_p, distance_p, row.frequency);
    CHECK(scale.monotone());
    CHECK(scale.error() < 1e-6);
    CHECK(scale.conductivity(row.phase) == Approx(row.conductivity).epsilon(1e-6));
  }
}

TEST_CASE("a coin much thicker than the skin depth has its own conductivity, whatever lies below") {
  // Coil P over 1.95 mm of 2.9 MS/m at 1 MHz, dZ = 24.76473192 - 335.1596351 j: computed for this project by three
  // independent programs. The skin depth is 0.296 mm: exp(-2 d / delta) = 2e-6 is left of the lower face.
  const ConductivityScale scale(coil_p, coil_p, distance_p, 1e6);
  CHECK(scale.conductivity(std::arg(Complex(2.476073192e1, -3.351596095e2))) == Approx(2.9e6).epsilon(2e-5));
}

TEST_CASE("a thin sheet appears to conduct less than its metal") {
  const ConductivityScale scale(coil_p, coil_p, distance_p, 20e3);
  const double thin = scale.conductivity(phase_of(coil_p, coil_p, Stack({{50e-6, 58e6, 1}}, distance_p), 20e3));
  const double thinner = scale.conductivity(phase_of(coil_p, coil_p, Stack({{25e-6, 58e6, 1}}, distance_p), 20e3));
  CHECK(thin < 58e6);
  CHECK(thinner < thin);
}

TEST_CASE("plated steel has no apparent conductivity at 1 kHz, and the first frequency that has one is named") {
  const Stack nickel({{25e-6, 14e6, 80}, {1.70e-3, 5.8e6, 150}, {25e-6, 14e6, 80}}, distance_p);
  // dZ = 4.550541116e-2 + 3.147557478e-1 j at 1 kHz: computed for this project by three independent programs.
  const ConductivityScale scale(coil_p, coil_p, distance_p, 1e3);
  CHECK(std::isnan(scale.conductivity(std::arg(Complex(4.550541116e-2, 3.147557478e-1)))));
  const auto first = first_frequency_with_conductivity(coil_p, coil_p, nickel.block(), 1e3);
  REQUIRE(first);
  // At 60 kHz the same programs give 11.25 - 0.346 j: no longer inductive, but the half-space with this phase would
  // conduct less than anything the scale knows.
  CHECK(*first > 60e3);
  CHECK(*first < 120e3);
  const auto has_one = [&](double frequency) {
    return !std::isnan(ConductivityScale(coil_p, coil_p, distance_p, frequency)
                           .conductivity(phase_of(coil_p, coil_p, nickel, frequency)));
  };
  CHECK(has_one(*first));
  CHECK_FALSE(has_one(*first * 0.97));
  // Two digits.
  CHECK(std::fmod(*first, 1e3) == 0.0);
}

TEST_CASE("a magnetic coin that never conducts like a half-space has no frequency") {
  const Stack ferrite({{5e-3, 0, 1000}}, distance_p);
  CHECK_FALSE(first_frequency_with_conductivity(coil_p, coil_p, ferrite.block(), 1e3));
}

TEST_CASE("a coin that has an apparent conductivity keeps its frequency") {
  const Stack copper({{2e-3, 58e6, 1}}, distance_p);
  CHECK(first_frequency_with_conductivity(coil_p, coil_p, copper.block(), 12.3e3) == 12.3e3);
}

TEST_CASE("pairs have a scale too, and phases beyond every half-space have no conductivity") {
  const Coil inner{2e-3, 5e-3, 2e-3, 200}, outer{5.5e-3, 7.5e-3, 2e-3, 150};
  const ConductivityScale scale(inner, outer, 1e-3, 60e3);
  REQUIRE(scale.monotone());
  CHECK(scale.error() < 1e-6);
  CHECK(scale.conductivity(phase_of(inner, outer, Stack({{10.0, 7e6, 1}}, 1e-3), 60e3)) == Approx(7e6).epsilon(1e-6));
  CHECK(std::isnan(scale.conductivity(0.0)));
  CHECK(std::isnan(scale.conductivity(0.3)));
  CHECK(std::isnan(scale.conductivity(-pi / 2)));
  CHECK(std::isnan(scale.conductivity(std::nan(""))));
}
