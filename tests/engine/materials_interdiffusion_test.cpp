#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/materials/interdiffusion.hpp"

using namespace mintspread;
using materials::Couple;

namespace {

/// Film of thickness h in a sealed length l, constant coefficient: Crank, The Mathematics of Diffusion, 2nd ed. 1975,
/// section 2.2.4 (from memory): c = h/l + (2/pi) SUM (1/n) sin(n pi h/l) cos(n pi x/l) exp(-n2 pi2 theta / l2).
double crank(double x, double h, double l, double theta) {
  double c = h / l;
  for (int n = 1; n < 400; ++n)
    c += 2.0 / (pi * n) * std::sin(n * pi * h / l) * std::cos(n * pi * x / l) *
         std::exp(-n * n * pi * pi * theta / (l * l));
  return c;
}

}  // namespace

TEST_CASE("a couple of one constant coefficient follows Crank's finite layer", "[diffusion]") {
  Couple couple(1.0, 0.6);
  for (const double theta : {0.02, 0.1, 0.5, 2.0}) {
    couple.advance(theta);
    for (double x = -0.55; x < 1.0; x += 0.1) {
      INFO(theta << " " << x);
      // The film is the second metal: measured from its sealed end at x = 1.
      CHECK(std::abs(couple.at(x) - crank(1.0 - x, 1.0, 1.6, theta)) < 1e-4);
    }
  }
}

TEST_CASE("the amount of a metal stays to rounding while it diffuses", "[diffusion]") {
  for (const double ratio : {1.0, 0.03, 0.006}) {
    Couple couple(ratio, 1.0);
    for (const double theta : {1e-4, 1e-2, 1.0}) {
      couple.advance(theta);
      CHECK(couple.amount() == Approx(1.0).epsilon(1e-12));
    }
  }
}

TEST_CASE("a couple's composition hardly changes on a grid twice as fine", "[diffusion]") {
  for (const double ratio : {0.006, 0.03, 0.1}) {
    Couple usual(ratio, 2.0), finer(ratio, 2.0, 2.0);
    for (const double theta : {0.02, 0.3, 2.0}) {
      usual.advance(theta);
      finer.advance(theta);
      double worst = 0.0;
      for (double x = -1.0; x < 1.0; x += 0.003) worst = std::max(worst, std::abs(usual.at(x) - finer.at(x)));
      INFO(ratio << " " << theta << " " << worst);
      CHECK(worst < 5e-4);
    }
  }
}

TEST_CASE("hotter or longer never sharpens a profile", "[diffusion]") {
  Couple couple(0.03, 1.0);
  double before = 2.0;
  for (double theta = 1e-3; theta < 3.0; theta *= 1.5) {
    couple.advance(theta);
    // Total of squares falls: the profile's unevenness.
    double squares = 0.0, steepest = 0.0;
    for (double x = -0.995; x < 1.0; x += 0.01) {
      squares += couple.at(x) * couple.at(x) * 0.01;
      steepest = std::max(steepest, couple.at(x + 0.005) - couple.at(x - 0.005));
      CHECK(couple.at(x + 0.005) >= couple.at(x - 0.005) - 1e-12);
    }
    CHECK(squares < before);
    before = squares;
  }
}

TEST_CASE("diffusion coefficients are those published, and a ramp is the integral over it", "[diffusion]") {
  // 0.62 cm2/s exp(-223.8 kJ/mol / R T) at 1123.15 K, by hand 2.42e-15 m2/s: 1.47 um in 15 minutes.
  CHECK(std::sqrt(materials::nickel_in_copper.at(celsius_zero + 850.0) * 900.0) * 1e6 == Approx(1.47).margin(0.01));
  CHECK(std::sqrt(materials::nickel_in_copper.at(celsius_zero + 700.0) * 900.0) * 1e6 == Approx(0.23).margin(0.01));
  const auto& d = materials::copper_in_nickel;
  double sum = 0.0;  // Simpson's rule over 293 to 1123 K in 600 s
  const int n = 20000;
  for (int i = 0; i <= n; ++i) sum += (i == 0 || i == n ? 1.0 : i % 2 == 1 ? 4.0 : 2.0) * d.at(293.0 + 830.0 * i / n);
  CHECK(d.over_ramp(293.0, 1123.0, 600.0) == Approx(sum * 600.0 / n / 3.0).epsilon(1e-8));
  CHECK(d.over_ramp(1123.0, 293.0, 600.0) == Approx(d.over_ramp(293.0, 1123.0, 600.0)).epsilon(1e-12));
  CHECK(d.over_ramp(1123.0, 1123.0, 600.0) == Approx(d.at(1123.0) * 600.0).epsilon(1e-12));
}
