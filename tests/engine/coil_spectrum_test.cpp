#include "engine/signature/coil_spectrum.hpp"

#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <catch2/catch.hpp>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/signature/planar.hpp"

namespace {

using namespace mintspread;
using namespace mintspread::signature;

double by_quadrature(double a, double b) {
  double sum = 0.0;
  const int pieces = 1 + static_cast<int>((b - a) / 3.0);
  for (int i = 0; i < pieces; ++i)
    sum += boost::math::quadrature::gauss_kronrod<double, 31>::integrate(
        [](double x) { return x * boost::math::cyl_bessel_j(1, x); }, a + (b - a) * i / pieces,
        a + (b - a) * (i + 1) / pieces, 6, 1e-14);
  return sum;
}

TEST_CASE("the radial moment agrees with Boost's adaptive quadrature on all three ranges and across their seams") {
  for (const double b : {1e-4, 0.01, 0.3, 1.0, 3.0, 4.99, 5.01, 7.0, 12.0, 20.0, 44.9, 45.1, 60.0, 150.0, 700.0})
    for (const double ratio : {0.0, 0.2, 0.6, 0.9, 0.999}) {
      CAPTURE(b, ratio);
      const double expected = by_quadrature(ratio * b, b);
      CHECK(std::abs(bessel_moment(ratio * b, b) - expected) < 1e-15 * std::max(1.0, b * std::sqrt(b)));
      if (b < 1.0) CHECK(bessel_moment(ratio * b, b) == Approx(expected).epsilon(1e-12));
    }
}

// Struve functions of mpmath 1.2 (tests/reference/planar.py, function moment, 30 digits).
TEST_CASE("the radial moment agrees with Struve functions") {
  CHECK(std::abs(bessel_moment(0.02, 0.05) - 1.949613404015564e-5) < 2e-14 * 1.95e-5);
  CHECK(std::abs(bessel_moment(0.4, 1) - 0.14399344891898147) < 2e-14 * 0.144);
  CHECK(std::abs(bessel_moment(0.0, 4.5) - 2.2843038385509072) < 2e-14 * 2.284);
  CHECK(std::abs(bessel_moment(2.4, 6) - -1.6619258749550012) < 2e-14 * 2.449);
  CHECK(std::abs(bessel_moment(7.5, 30) - 4.3736646161518372) < 2e-14 * 5.477);
  CHECK(std::abs(bessel_moment(30.0, 50) - -5.3644928571374374) < 2e-14 * 7.071);
  CHECK(std::abs(bessel_moment(0.0, 100) - -1.0759224734621462) < 2e-14 * 10.0);
  CHECK(std::abs(bessel_moment(900.0, 1000) - -6.787522139713502) < 2e-14 * 31.62);
}

// Computed for this project from Dodd & Deeds (1968) by three independent programs.
TEST_CASE("self-inductance of a coil of 5 to 8 mm") {
  CHECK(self_inductance({5e-3, 8e-3, 2e-3, 100}) == Approx(1.522026643e-4).epsilon(5e-10));
}

TEST_CASE("a Brooks coil has the inductance of Grover's tables") {
  // L = 1.6994e-6 a N^2 with mean radius a = 1.5 c (Grover, Inductance Calculations, 1946; from memory). Half a unit of
  // the last digit.
  const double c = 8e-3, turns = 50;
  CHECK(self_inductance({c, 2.0 * c, c, turns}) / (1.5 * c * turns * turns) == Approx(1.6994e-6).margin(0.5e-10));
}

TEST_CASE("a long solenoid has Nagaoka's inductance") {
  // mu0 N^2 pi r^2 / l (1 - 8 r / (3 pi l) + r^2 / (2 l^2) - r^4 / (4 l^4)) for a current sheet (Lundin, Proc. IEEE 73,
  // 1428, 1985, expansion of Lorenz' formula; from memory); the winding here is 1e-3 r thick, which costs r / 1000 at
  // most.
  const double r = 5e-3, l = 60e-3, turns = 300, x = r / l;
  const double sheet =
      mu0 * turns * turns * pi * r * r / l * (1.0 - 8.0 * x / (3.0 * pi) + x * x / 2.0 - x * x * x * x / 4.0);
  CHECK(self_inductance({r * 0.9995, r * 1.0005, l, turns}) == Approx(sheet).epsilon(1.2e-3));
}

TEST_CASE("the spectrum of a coil is the sum of the spectra of its halves") {
  const Coil whole{2e-3, 5e-3, 2e-3, 30}, inner{2e-3, 3e-3, 2e-3, 10}, outer{3e-3, 5e-3, 2e-3, 20},
      half{2e-3, 5e-3, 1e-3, 15};
  for (const double k : {1.0, 100.0, 999.0, 2e4}) {
    const double all = coil_weight(whole, k);
    CHECK(coil_weight(inner, k) + coil_weight(outer, k) == Approx(all).margin(1e-13 * coil_weight(whole, 100.0)));
    CHECK(coil_weight(half, k) * (1.0 + std::exp(-k * 1e-3)) == Approx(all).margin(1e-13 * coil_weight(whole, 100.0)));
  }
}

}  // namespace
