#include <catch2/catch.hpp>
#include <chrono>
#include <cmath>
#include <vector>

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

namespace {

/// How sharp the boundary of 6 um of nickel and 9 um of copper is after an anneal: the unevenness INT c^2 dx, the
/// height of the steepest 50 nm, and the thickness with less than 1 % of the other metal, m.
struct Sharpness {
  double squares = 0.0, steepest = 0.0, clean = 0.0;
};
Sharpness after(double celsius, double minutes) {
  constexpr double copper = 9e-6, nickel = 6e-6, step = 2.5e-9;
  constexpr std::size_t window = 20;
  const double kelvin = celsius_zero + celsius, theta = materials::nickel_in_copper.at(kelvin) * 60.0 * minutes;
  Couple couple(materials::copper_in_nickel.at(kelvin) / materials::nickel_in_copper.at(kelvin), nickel / copper);
  couple.advance(theta / (copper * copper));
  std::vector<double> c;
  for (double x = -nickel + 0.5 * step; x < copper; x += step) c.push_back(couple.at(x / copper));
  Sharpness out;
  bool rises = true;
  for (std::size_t i = 0; i < c.size(); ++i) {
    out.squares += c[i] * c[i] * step;
    if (c[i] < 0.01 || c[i] > 0.99) out.clean += step;
    if (i > 0) rises = rises && c[i] >= c[i - 1] - 1e-12;
    if (i >= window) out.steepest = std::max(out.steepest, c[i] - c[i - window]);
  }
  CHECK(rises);  // never a hump
  return out;
}

}  // namespace

TEST_CASE("hotter or longer never sharpens a profile", "[diffusion][slow]") {
  for (const double celsius : {620.0, 700.0, 780.0, 850.0, 900.0})
    for (const double minutes : {5.0, 15.0, 60.0, 240.0}) {
      INFO(celsius << " C, " << minutes << " min");
      const Sharpness usual = after(celsius, minutes);
      for (const Sharpness& more : {after(celsius + 10.0, minutes), after(celsius, 1.3 * minutes)}) {
        CHECK(more.squares < usual.squares);
        CHECK(more.steepest <= usual.steepest);
        CHECK(more.clean <= usual.clean);
      }
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
