#include <catch2/catch.hpp>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/materials/softening.hpp"
#include "engine/route/diffusion.hpp"
#include "engine/route/form.hpp"
#include "tests/support/inputs.hpp"

using namespace mintspread;
using materials::softening;
using Of = coin::CoinBlock::Of;

namespace {

constexpr double cold = celsius_zero + 300.0, hot = celsius_zero + 350.0;

/// A bare annealed blank whose conductivity the anneal raises by a tenth where it is softened all through.
struct Annealed {
  test::Inputs inputs;
  route::Blank blank{inputs.steel(), inputs(1.5e-3), inputs(21.7e-3)};
  route::Anneal anneal{"soft", inputs(cold), inputs(3600.0), {}};

  Annealed() { anneal.changes = {{"blank", inputs(1.1), inputs(1.5), {}, {}}}; }
  double conductivity(std::size_t lane = 0) { return block().of(0, Of::conductivity)[lane] / 6.5e6; }
  double permeability(std::size_t lane = 0) { return block().of(0, Of::permeability)[lane] / 120.0; }
  const coin::CoinBlock block() const {
    const route::Route route{{blank, anneal}};
    coin::CoinBlock made(route::construction_of(route), test::Inputs::lanes);
    route::form(route, inputs.columns(), made);
    return made;
  }
};

}  // namespace

TEST_CASE("a rate law goes through its two states of half softening and follows Arrhenius between") {
  for (const double exponent : {0.5, 1.0, 2.0}) {
    const auto law = softening(cold, 3600.0, hot, 300.0, exponent);
    CHECK(law.done(law.rate.at(cold) * 3600.0) == Approx(0.5).epsilon(1e-12));
    CHECK(law.done(law.rate.at(hot) * 300.0) == Approx(0.5).epsilon(1e-12));
    // Equal states: t exp(-Q / R T) is the same (Arrhenius); X = 1 - exp(-(k t)^n) (Avrami), both evaluated.
    const double between = 0.5 * (cold + hot);
    const double time = 3600.0 * std::exp(law.rate.activation / gas_constant * (1.0 / between - 1.0 / cold));
    CHECK(law.done(law.rate.at(between) * time) == Approx(0.5).epsilon(1e-10));
    const double k = std::pow(std::log(2.0), 1.0 / exponent) / 3600.0;
    CHECK(law.done(law.rate.at(cold) * 5000.0) ==
          Approx(1.0 - std::exp(-std::pow(k * 5000.0, exponent))).epsilon(1e-12));
    CHECK(law.done(0.0) == 0.0);
    CHECK(law.done(1e9) == 1.0);
  }
  // 12 times sooner for 50 K: Q = R ln 12 / (1/573.15 - 1/623.15) = 147.6 kJ/mol.
  CHECK(softening(cold, 3600.0, hot, 300.0, 1.0).rate.activation ==
        Approx(8.31446261815324 * std::log(12.0) / (1 / 573.15 - 1 / 623.15)).epsilon(1e-12));
}

TEST_CASE("an anneal softens by its drawn heat, hotter and longer never less") {
  Annealed made;
  made.anneal.changes[0].softening = softening(cold, 3600.0, hot, 300.0, 1.0);
  CHECK(made.conductivity() == Approx(1.05).epsilon(1e-12));
  CHECK(made.permeability() == Approx(1.25).epsilon(1e-12));
  const std::size_t lanes = test::Inputs::lanes;
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    made.inputs.set(made.anneal.temperature, lane, cold - 100.0 + 40.0 * static_cast<double>(lane));
  }
  for (std::size_t lane = 1; lane < lanes; ++lane) CHECK(made.conductivity(lane) >= made.conductivity(lane - 1));
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    made.inputs.set(made.anneal.temperature, lane, cold);
    made.inputs.set(made.anneal.time, lane, 600.0 * static_cast<double>(lane));
  }
  CHECK(made.conductivity(0) == 1.0);
  for (std::size_t lane = 1; lane < lanes; ++lane) CHECK(made.conductivity(lane) > made.conductivity(lane - 1));
}

TEST_CASE("heating and cooling soften too, as the sum over their temperatures") {
  Annealed made;
  made.anneal.changes[0].softening = softening(cold, 3600.0, hot, 300.0, 1.5);
  made.anneal.coldest = celsius_zero + 20.0;
  made.anneal.ramps = {{1200.0, 0.0, 1.0}, {2400.0, 1.0, 0.1}};
  const auto& law = *made.anneal.changes[0].softening;
  // The referee adds up small steps of the profile.
  double dose = law.rate.at(cold) * 3600.0;
  const int steps = 20000;
  for (const auto& ramp : made.anneal.ramps) {
    for (int i = 0; i < steps; ++i) {
      const double part = ramp.from + (ramp.to - ramp.from) * (i + 0.5) / steps;
      dose += law.rate.at(made.anneal.coldest + part * (cold - made.anneal.coldest)) * ramp.duration / steps;
    }
  }
  CHECK(made.conductivity() == Approx(1.0 + 0.1 * law.done(dose)).epsilon(1e-8));
}

TEST_CASE("a stated curve is straight between its points and level beyond them") {
  Annealed made;
  made.anneal.changes[0].conductivity_factor = made.inputs(1.01);
  made.anneal.changes[0].permeability_factor = made.inputs(1.0);
  made.anneal.changes[0].curve = {{cold, 1.0, 1.1}, {hot, 1.04, 1.5}};
  const double at[] = {cold - 10.0, cold, cold + 25.0, hot, hot + 10.0};
  const double conductivity[] = {1.0, 1.0, 1.02, 1.04, 1.04}, permeability[] = {1.1, 1.1, 1.3, 1.5, 1.5};
  for (std::size_t lane = 0; lane < 5; ++lane) made.inputs.set(made.anneal.temperature, lane, at[lane]);
  for (std::size_t lane = 0; lane < 5; ++lane) {
    CHECK(made.conductivity(lane) == Approx(1.01 * conductivity[lane]).epsilon(1e-12));
    CHECK(made.permeability(lane) == Approx(permeability[lane]).epsilon(1e-12));
  }
  // The place in the charge counts.
  made.anneal.place = made.inputs(12.5);
  CHECK(made.conductivity(1) == Approx(1.01 * 1.01).epsilon(1e-12));
}
