#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <vector>

#include "engine/signature/planar.hpp"
#include "tests/reference/planar_referee.hpp"

// Closed forms of the layered solution in its limits, and what any passive, reciprocal, linear arrangement obeys.
// Derived from the field equations of Dodd & Deeds, J. Appl. Phys. 39, 2829 (1968); each case says which.

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using reference::Complex;
using reference::Layer;
using reference::Stacks;

constexpr Coil coil{2e-3, 5e-3, 2e-3, 10};
constexpr double lift_off = 0.4e-3, both = 2.0 * lift_off;

Complex harmonic(double frequency) { return {0.0, 2.0 * pi * frequency}; }

Complex inductance(const Coil& drive, const Coil& receive, Coupling coupling, const std::vector<Layer>& layers,
                   double gaps, Complex s, double tolerance = 1e-9) {
  const Stacks stack(layers, gaps);
  const std::vector<Complex> at{s};
  Columns out(2, 8);
  mutual_inductance(make_rule(drive, receive, coupling, at, stack.block(), tolerance), at, stack.block(), out);
  return {out[0][2], out[1][2]};
}

Complex reflected(const std::vector<Layer>& layers, Complex s, double tolerance = 1e-9) {
  return inductance(coil, coil, Coupling::reflected, layers, both, s, tolerance);
}

Complex transmitted(const std::vector<Layer>& layers, Complex s) {
  return inductance(coil, coil, Coupling::transmitted, layers, both, s);
}

/// pi mu0 INT W^2 exp(-k gaps) f(k) dk.
template <class Function>
Complex weighted(Function f, double gaps = both) {
  using Legendre = boost::math::quadrature::gauss<double, 20>;
  const double step = 100.0;
  Complex sum = 0.0;
  for (int i = 0; i < 600; ++i)
    for (const double sign : {-1.0, 1.0})
      for (std::size_t j = 0; j < Legendre::abscissa().size(); ++j) {
        const double k = step * (i + 0.5 * (1.0 + sign * Legendre::abscissa()[j]));
        const double w = coil_weight(coil, k);
        sum += 0.5 * step * Legendre::weights()[j] * w * w * std::exp(-k * gaps) * f(k);
      }
  return pi * mu0 * sum;
}

bool near(Complex a, Complex b, double tolerance) { return std::abs(a - b) < tolerance * std::abs(b); }

/// Mutual inductance of two coaxial circles, Maxwell's formula by complete elliptic integrals (Treatise, art. 701).
double two_loops(double a, double b, double distance) {
  const double m = 4.0 * a * b / ((a + b) * (a + b) + distance * distance), k = std::sqrt(m);
  return mu0 * std::sqrt(a * b) * ((2.0 / k - k) * std::comp_ellint_1(k) - 2.0 / k * std::comp_ellint_2(k));
}

TEST_CASE("air in place of the coin changes nothing, and passes the field of Maxwell's coaxial circles") {
  CHECK(std::abs(reflected({{1e-3, 0.0, 1.0}}, harmonic(1e5))) <
        1e-15 * std::abs(weighted([](double) { return 1.0; })));
  // Rectangular sections: Gauss points across both, smooth because the coils are 2.8 mm apart.
  using Legendre = boost::math::quadrature::gauss<double, 10>;
  std::vector<double> at, weight;
  for (std::size_t j = 0; j < Legendre::abscissa().size(); ++j)
    for (const double sign : {-1.0, 1.0}) {
      at.push_back(0.5 * (1.0 + sign * Legendre::abscissa()[j]));
      weight.push_back(0.5 * Legendre::weights()[j]);
    }
  double expected = 0.0;
  for (std::size_t a = 0; a < at.size(); ++a)
    for (std::size_t b = 0; b < at.size(); ++b)
      for (std::size_t c = 0; c < at.size(); ++c)
        for (std::size_t d = 0; d < at.size(); ++d)
          expected += weight[a] * weight[b] * weight[c] * weight[d] *
                      two_loops(2e-3 + 3e-3 * at[a], 2e-3 + 3e-3 * at[b], 2e-3 + both + 2e-3 * at[c] + 2e-3 * at[d]);
  expected *= 10 * 10;
  CHECK(near(transmitted({{1.3e-3, 0.0, 1.0}, {0.7e-3, 0.0, 1.0}}, harmonic(1e5)), expected, 1e-9));
}

TEST_CASE("a perfect conductor is an image coil of the opposite sense") {
  // rho = -1: the coil sees its mirror image 2 lift-off away. Skin depth 0 is approached by s on the real axis, where
  // rho = (k - kappa) / (k + kappa) = -1 + 2 k / kappa.
  const Complex image = -weighted([](double) { return 1.0; });
  const double s = 1e22;
  CHECK(near(reflected({{1e-3, 60e6, 1.0}}, s), image, 3e-6));
  // ... and the image is Maxwell's: the two coils of the case above, with nothing between but the gaps.
  CHECK(near(image, -inductance(coil, coil, Coupling::transmitted, {{0.0, 0.0, 1.0}}, both, 1.0), 1e-9));
}

TEST_CASE("a non-conducting magnetic half-space reflects (mu - 1) / (mu + 1)") {
  for (const double mu : {1.001, 2.0, 80.0, 1000.0})
    CHECK(near(reflected({{10.0, 0.0, mu}}, harmonic(1e5)), weighted([&](double) { return (mu - 1.0) / (mu + 1.0); }),
               1e-9));
}

TEST_CASE("a conducting half-space reflects (mu k - kappa) / (mu k + kappa)") {
  for (const double mu : {1.0, 60.0})
    for (const double frequency : {1e3, 1e5, 1e7}) {
      const Complex s = harmonic(frequency);
      const Complex expected = weighted([&](double k) {
        const Complex kappa = std::sqrt(k * k + s * mu0 * mu * 6.5e6);
        return (mu * k - kappa) / (mu * k + kappa);
      });
      CHECK(near(reflected({{1.0, 6.5e6, mu}}, s), expected, 1e-9));
    }
}

TEST_CASE("a thin non-magnetic sheet is known by conductivity times thickness") {
  // rho = -s mu0 G / (2 k + s mu0 G), tau = 1 + rho; what is left out is of the order of t/skin depth squared and k t.
  const double conductivity = 58e6, thickness = 1e-9, sheet = conductivity * thickness;
  for (const double frequency : {1e4, 1e6}) {
    const Complex s = harmonic(frequency);
    const auto rho = [&](double k) { return -s * mu0 * sheet / (2.0 * k + s * mu0 * sheet); };
    CHECK(near(reflected({{thickness, conductivity, 1.0}}, s), weighted(rho), 3e-6));
    CHECK(
        near(transmitted({{thickness, conductivity, 1.0}}, s), weighted([&](double k) { return 1.0 + rho(k); }), 3e-6));
  }
}

TEST_CASE("a thin magnetic sheet to first order in its thickness") {
  // rho = d (mu k^2 - k^2 / mu - s mu0 sigma) / (2 k): the conductivity counts without mu.
  const double d = 1e-11, mu = 60.0, conductivity = 13e6;
  const Complex s = harmonic(1e5);
  const Complex expected =
      weighted([&](double k) { return d * (mu * k * k - k * k / mu - s * mu0 * conductivity) / (2.0 * k); });
  CHECK(near(reflected({{d, conductivity, mu}}, s, 1e-7), expected, 1e-6));
}

TEST_CASE("neighbouring layers of one metal are one layer, and a layer of no thickness is none") {
  const Layer nickel{6e-6, 13e6, 60}, copper{18e-6, 57e6, 1}, steel{1.6e-3, 6.5e6, 120};
  Layer part = copper, rest = copper;
  part.thickness = 0.3 * copper.thickness;
  rest.thickness = 0.7 * copper.thickness;
  const Layer nothing{0.0, 30e6, 500};
  for (const double frequency : {1e3, 60e3, 1e7}) {
    const Complex s = harmonic(frequency);
    const Complex whole = reflected({nickel, copper, steel}, s);
    CHECK(near(reflected({nickel, part, rest, steel}, s), whole, 1e-9));
    CHECK(near(reflected({nothing, nickel, nothing, copper, steel, nothing}, s), whole, 1e-9));
    const Complex through = transmitted({nickel, copper}, s);
    CHECK(near(transmitted({nickel, part, rest}, s), through, 1e-9));
    CHECK(near(transmitted({nickel, nothing, copper}, s), through, 1e-9));
  }
}

TEST_CASE("the resistance of a non-magnetic plate at low frequency grows with frequency squared") {
  // Born: R = w^2 mu0^2 sigma (pi / 4) INT W^2 k^-2 (1 - exp(-2 k D)) dk, exact to the order of (k skin depth)^-4.
  const double thickness = 1.5e-3, conductivity = 3e6, frequency = 1.0, omega = 2.0 * pi * frequency;
  const Complex expected = weighted([&](double k) {
    return omega * omega * mu0 * conductivity / 4.0 * (1.0 - std::exp(-2.0 * k * thickness)) / (k * k);
  });
  const Complex s = harmonic(frequency);
  const Complex z = s * reflected({{thickness, conductivity, 1.0}}, s);
  CHECK(z.real() == Approx(expected.real()).epsilon(1e-6));
}

TEST_CASE("at high frequency the coin's surface resistance is left of an image coil") {
  // dZ = s dM_pec + (1 + j) w mu_r delta pi mu0 INT W^2 k dk, next order (k delta mu_r)^2.
  const double conductivity = 57e6, frequency = 1e7, omega = 2.0 * pi * frequency;
  const double delta = std::sqrt(2.0 / (omega * mu0 * conductivity));
  const Complex s = harmonic(frequency);
  const Complex image = -s * weighted([](double) { return 1.0; });
  const Complex surface = Complex(1.0, 1.0) * omega * delta * weighted([](double k) { return k; });
  const Complex z = s * reflected({{1e-3, conductivity, 1.0}}, s);
  CHECK(near(z - image, surface, 0.03));
  CHECK(z.real() == Approx(surface.real()).epsilon(0.03));
}

TEST_CASE("a coin takes power and never gives it, and pairs are reciprocal") {
  const Coil other{5.5e-3, 7.5e-3, 1e-3, 30};
  const std::vector<std::vector<Layer>> coins{{{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, {1.6e-3, 6.5e6, 120}},
                                              {{0.5e-6, 0.1e6, 1}},
                                              {{4e-3, 60e6, 1000}},
                                              {{1e-3, 0.0, 50}, {1e-3, 2e6, 1}}};
  for (const std::vector<Layer>& coin : coins)
    for (const double frequency : {1e3, 1e5, 1e7}) {
      const Complex s = harmonic(frequency);
      CHECK((s * reflected(coin, s, 1e-6)).real() >= 0.0);
      const Complex forth = inductance(coil, other, Coupling::reflected, coin, both, s);
      const Complex back = inductance(other, coil, Coupling::reflected, coin, both, s);
      CHECK(near(forth, back, 1e-8));
      // Through: the coin upside down, the coils exchanged.
      std::vector<Layer> turned(coin.rbegin(), coin.rend());
      const Complex down = inductance(coil, other, Coupling::transmitted, coin, both, s);
      const Complex up = inductance(other, coil, Coupling::transmitted, turned, both, s);
      const double air = 1e-6;
      CHECK(std::abs(down - up) < 1e-8 * std::abs(up) + 1e-12 * air);
    }
}

TEST_CASE("all lengths times c and the frequency over c squared: inductance times c") {
  const double c = 1.7;
  const std::vector<Layer> coin{{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, {1.6e-3, 6.5e6, 120}};
  std::vector<Layer> larger = coin;
  for (Layer& layer : larger) layer.thickness *= c;
  const Coil large{c * coil.inner_radius, c * coil.outer_radius, c * coil.length, coil.turns};
  for (const double frequency : {1e3, 1e5}) {
    const Complex s = harmonic(frequency);
    CHECK(near(inductance(large, large, Coupling::reflected, larger, c * both, s / (c * c)), c * reflected(coin, s),
               1e-9));
  }
}

TEST_CASE("a lane with something that is no number gives no number, its neighbours are untouched") {
  const std::vector<Layer> coin{{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, {1.6e-3, 6.5e6, 120}, {18e-6, 57e6, 1}};
  const std::vector<Complex> s{harmonic(1e3), harmonic(1e6)};
  const Stacks clean(coin, both);
  const PlanarRule rule = make_rule(coil, coil, Coupling::reflected, s, clean.block());
  Columns expected(4, 8), out(4, 8);
  mutual_inductance(rule, s, clean.block(), expected);
  const double none = std::numeric_limits<double>::quiet_NaN();
  for (std::size_t what = 0; what < 13; ++what) {
    Stacks stack(coin, both);
    if (what == 12) {
      stack.set_distance(3, none);
    } else {
      Layer layer = coin[what / 3];  // the last one lies under an opaque core at 1 MHz
      (what % 3 == 0 ? layer.thickness : what % 3 == 1 ? layer.conductivity : layer.permeability) = none;
      stack.set(3, what / 3, layer);
    }
    mutual_inductance(rule, s, stack.block(), out);
    for (std::size_t column = 0; column < 4; ++column)
      for (std::size_t lane = 0; lane < 8; ++lane) {
        CAPTURE(what, column, lane);
        if (lane == 3)
          CHECK(std::isnan(out[column][lane]));
        else
          CHECK(out[column][lane] == expected[column][lane]);
      }
  }
}

}  // namespace
