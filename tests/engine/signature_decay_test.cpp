#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/special_functions/bessel.hpp>
#include <boost/math/special_functions/ellint_1.hpp>
#include <boost/math/special_functions/ellint_2.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <functional>
#include <nlohmann/json.hpp>

#include "engine/base/constants.hpp"
#include "engine/signature/decay.hpp"
#include "tests/support/stack.hpp"

using namespace mintspread;
using namespace mintspread::signature;
using mintspread::test::Layer;
using mintspread::test::Stack;
using Complex = std::complex<double>;

namespace {

/// -L^-1{M} at the gates for any M(s), as decay_voltage does it for planar stacks.
std::vector<double> voltages(const std::vector<DecayGate>& gates, const std::function<Complex(Complex)>& mutual,
                             double accuracy = 1e-11) {
  const DecayPlan plan = plan_decay(gates, accuracy);
  Columns in(2 * plan.s.size(), 8), out(gates.size(), 8);
  for (std::size_t m = 0; m < plan.s.size(); ++m) {
    const Complex value = mutual(plan.s[m]);
    std::fill(in[2 * m].begin(), in[2 * m].end(), value.real());
    std::fill(in[2 * m + 1].begin(), in[2 * m + 1].end(), value.imag());
  }
  decay_voltage(plan, in, out);
  std::vector<double> result;
  for (std::size_t g = 0; g < gates.size(); ++g) result.push_back(out[g][5]);
  return result;
}

std::vector<double> prepared_voltages(const PreparedDecay& prepared, const PlanarBlock& block) {
  Columns mutual(2 * prepared.most_points(), 8), out(prepared.gates, 8);
  decay_voltage(prepared, block, mutual, out);
  std::vector<double> result;
  for (std::size_t g = 0; g < prepared.gates; ++g) result.push_back(out[g][5]);
  return result;
}

/// Mutual inductance of two coaxial loops (Maxwell, Treatise, art. 701, from memory).
double loops(double a, double b, double h) {
  const double k = std::sqrt(4 * a * b / ((a + b) * (a + b) + h * h));
  return mu0 * std::sqrt(a * b) * ((2 / k - k) * boost::math::ellint_1(k) - 2 / k * boost::math::ellint_2(k));
}

/// Spectrum of two loops, pi mu0 ab J1(ka) J1(kb) dk, on panels: what a rule is for coils of no section.
PlanarRule loop_rule(double a, double b, double h) {
  using Legendre = boost::math::quadrature::gauss<double, 10>;
  PlanarRule rule;
  rule.reference_distance = h;
  const double panel = 100.0;
  for (int p = 0; p < 150; ++p)
    for (std::size_t i = 0; i < Legendre::abscissa().size(); ++i)
      for (const double sign : {-1.0, 1.0}) {
        const double k = panel * (p + 0.5 + 0.5 * sign * Legendre::abscissa()[i]);
        rule.nodes.push_back(k);
        rule.weights.push_back(0.5 * panel * Legendre::weights()[i] * pi * mu0 * a * b *
                               boost::math::cyl_bessel_j(1, k * a) * boost::math::cyl_bessel_j(1, k * b) *
                               std::exp(-k * h));
      }
  return rule;
}

constexpr Coil coil_p{5e-3, 8e-3, 2e-3, 100};

}  // namespace

TEST_CASE("a known Laplace transform is inverted to ten digits") {
  // L^-1{exp(-2 sqrt s)}(t) = exp(-1/t) / sqrt(pi t^3) (Abramowitz & Stegun 29.3.82): 0.12248838500613773 at t = 0.3.
  // Time is scaled by 1e-5 into the range of gates.
  const double scale = 1e-5;
  const std::vector<DecayGate> gates{{0.3 * scale, 0, 0}};
  const double v = voltages(gates, [&](Complex s) { return std::exp(-2.0 * std::sqrt(s * scale)); })[0];
  CHECK(-v * scale == Approx(0.12248838500613773).epsilon(1e-10));
}

TEST_CASE("an impulse at switch-off does not reach a gate") {
  const std::vector<DecayGate> gates{{1e-6, 0, 0}, {20e-6, 4e-6, 2e-6}, {5e-3, 0, 0}};
  const std::vector<double> v = voltages(gates, [](Complex) { return 1.0; });
  for (std::size_t g = 0; g < gates.size(); ++g) CHECK(std::abs(v[g]) * gates[g].time < 1e-10);
}

TEST_CASE("every gate of a wide set holds the stated accuracy, whatever the time constant") {
  std::vector<DecayGate> gates;
  for (double t = 1e-6; t < 10e-3; t *= 2.1) gates.push_back({t, 0, 0});
  for (const double accuracy : {1e-5, 1e-7, 1e-9}) {
    for (double rate = 1e-1; rate < 1e9; rate *= 3) {
      const std::vector<double> v = voltages(
          gates, [&](Complex s) { return rate / (s + rate); }, accuracy);
      for (std::size_t g = 0; g < gates.size(); ++g)
        // The rate of convergence leaves a factor of order one open.
        CHECK(std::abs(v[g] + rate * std::exp(-rate * gates[g].time)) * gates[g].time < 5 * accuracy);
    }
  }
}

TEST_CASE("gate width and ramp average an exponential exactly") {
  const double rate = 2e5, width = 3e-6, ramp = 2e-6, time = 12e-6;
  const std::vector<DecayGate> gates{{time, 0, 0}, {time, width, 0}, {time, 0, ramp}, {time, width, ramp}};
  const std::vector<double> v = voltages(gates, [&](Complex s) { return rate / (s + rate); });
  const double plain = -rate * std::exp(-rate * time);
  const double over_gate = std::sinh(rate * width / 2) / (rate * width / 2);
  const double over_ramp = std::expm1(rate * ramp) / (rate * ramp);
  CHECK(v[0] == Approx(plain).epsilon(1e-9));
  CHECK(v[1] == Approx(plain * over_gate).epsilon(1e-9));
  CHECK(v[2] == Approx(plain * over_ramp).epsilon(1e-9));
  CHECK(v[3] == Approx(plain * over_gate * over_ramp).epsilon(1e-9));
}

TEST_CASE("a slab freed from a parallel field decays by its series") {
  // Flux left in a slab of thickness d: (8/pi^2) sum over odd n of n^-2 exp(-n^2 t/tau), tau = mu sigma d^2/pi^2; heat
  // conduction's series for a slab (Carslaw & Jaeger 1959, section 3.3, from memory).
  const double tau = mu0 * 58e6 * 1e-6 / (pi * pi);  // 1 mm of copper
  std::vector<DecayGate> gates{{1e-6, 0, 0}, {5e-6, 0, 0}, {20e-6, 0, 0}, {60e-6, 0, 0}};
  const std::vector<double> v = voltages(gates, [&](Complex s) {
    const Complex x = pi / 2 * std::sqrt(s * tau);
    return (1.0 - std::tanh(x) / x) / s;
  });
  for (std::size_t g = 0; g < gates.size(); ++g) {
    double expected = 0;
    for (int n = 1; n < 400; n += 2) expected += 8 / (pi * pi * n * n) * std::exp(-n * n * gates[g].time / tau);
    // 1e-11 of the largest |M|, tau / 3, over t.
    CHECK(-v[g] == Approx(expected).epsilon(1e-9).margin(1e-11 * tau / gates[g].time));
  }
}

TEST_CASE("a thin sheet answers with Maxwell's receding image") {
  // Maxwell 1873: after a step the sheet of conductance G mirrors the loop, and the image recedes at U = 2/(mu0 G). The
  // sheet of the computation is 2 nm thick, so that thickness matters less than 1e-6.
  const double a = 6e-3, b = 6e-3, h = 4e-3, conductance = 58e6 * 20e-6, speed = 2 / (mu0 * conductance);
  const Stack stack({{2e-9, conductance / 2e-9, 1}}, h);
  const PlanarRule rule = loop_rule(a, b, h);
  SECTION("the closed form as published") {
    // Step-on reflected mutual inductance -M(a, b, h + U t), computed for this project with mpmath.
    CHECK(-loops(a, b, h + speed * 1e-6) == Approx(-3.461996865e-9).epsilon(1e-9));
    CHECK(-loops(a, b, h + speed * 10e-6) == Approx(-3.429495302e-10).epsilon(1e-9));
    CHECK(-loops(a, b, h + speed * 100e-6) == Approx(-9.037777607e-13).epsilon(1e-9));
  }
  SECTION("gates with a width, over three decades, from one plan") {
    std::vector<DecayGate> gates;
    for (const double t : {2e-6, 5e-6, 20e-6, 100e-6}) gates.push_back({t, t / 2, 0});
    const PreparedDecay prepared{4, {{{0, 1, 2, 3}, plan_decay(gates, 1e-11), rule}}};
    const std::vector<double> v = prepared_voltages(prepared, stack.block());
    for (std::size_t g = 0; g < gates.size(); ++g) {
      const double from = loops(a, b, h + speed * 0.75 * gates[g].time);
      const double to = loops(a, b, h + speed * 1.25 * gates[g].time);
      CHECK(v[g] == Approx((to - from) / gates[g].width).epsilon(3e-6));
    }
  }
  SECTION("gate and ramp are the numerical convolution") {
    const DecayGate gate{8e-6, 3e-6, 4e-6};
    const PreparedDecay prepared{1, {{{0}, plan_decay(std::span(&gate, 1), 1e-11), rule}}};
    const double v = prepared_voltages(prepared, stack.block())[0];
    // The gate's mean of the step response that began at `start`, averaged over the ramp.
    const auto of_start = [&](double start) {
      return (loops(a, b, h + speed * (9.5e-6 - start)) - loops(a, b, h + speed * (6.5e-6 - start))) / gate.width;
    };
    const double mean =
        boost::math::quadrature::gauss_kronrod<double, 31>::integrate(of_start, 0.0, gate.ramp, 5, 1e-12) / gate.ramp;
    CHECK(v == Approx(mean).epsilon(3e-6));
  }
}

TEST_CASE("decays over plated coins match computed references to 1e-4 from one plan for all gates") {
  std::ifstream file(std::string(MINTSPREAD_TESTS) + "/reference/planar_decay.json");
  const nlohmann::json reference = nlohmann::json::parse(file);
  std::size_t most_points = 0;
  for (const auto& row : reference["cases"]) {
    const std::string id = row["id"];
    const auto coil = [&](const char* key) {
      const auto& of = row[key];
      return Coil{of["r1"], of["r2"], of["z2"].get<double>() - of["z1"].get<double>(), of["N"]};
    };
    std::vector<Layer> layers;
    for (const auto& layer : row["layers"]) layers.push_back({layer[0], layer[1], layer[2]});
    std::vector<DecayGate> gates;
    for (const auto& decay : row["decay"]) gates.push_back({decay[0], 0, 0});
    const char* receivers[] = {"drive", "recv_same", "recv_below"};
    for (std::size_t which = 0; which < 3; ++which) {
      // Pairs and through-transmission on one solid and one plated stack: the rest takes long and says the same.
      if (which > 0 && id != "A03" && id != "A05") continue;
      const Coupling coupling = which == 2 ? Coupling::transmitted : Coupling::reflected;
      const Stack stack(layers, row["drive"]["z1"].get<double>() + row[receivers[which]]["z1"].get<double>());
      const PreparedDecay prepared =
          prepare_decay(coil("drive"), coil(receivers[which]), coupling, gates, stack.block());
      const std::vector<double> v = prepared_voltages(prepared, stack.block());
      const double first = std::abs(row["decay"][0][which + 1].get<double>());
      for (std::size_t g = 0; g < gates.size(); ++g) {
        const double expected = row["decay"][g][which + 1];
        const double bound = 1e-4 * std::max(std::abs(expected), 1e-6 * first);
        INFO(id << " receiver " << which << " at " << gates[g].time);
        // The references themselves hold 1e-8 V.
        CHECK(std::abs(v[g] - expected) < std::max(bound, which == 2 ? 1e-8 : 0.0));
      }
      CHECK(prepared.error < 1e-4);
      std::size_t points = 0;
      for (const DecayContour& contour : prepared.contours) points += contour.plan.s.size();
      most_points = std::max(most_points, points);
    }
  }
  // Gate by gate six contours would need some 70.
  CHECK(most_points <= 40);
}

TEST_CASE("step responses of a plate follow from a gate between two times") {
  // Coil P over stack C, g = L^-1{M/s}, computed for this project by two independent programs:
  // 10 us -2.0938965568e-5 H, 100 us -7.4914879749e-7 H; stack A: 3.2540956238e-5 and 5.0065302003e-5 H.
  const std::vector<DecayGate> gates{{55e-6, 90e-6, 0}};
  const Stack c({{1.95e-3, 2.9e6, 1}}, 2e-3);
  const Stack a({{25e-6, 14e6, 80}, {1.70e-3, 5.8e6, 150}, {25e-6, 14e6, 80}}, 2e-3);
  const auto mean = [&](const Stack& stack) {
    return prepared_voltages(prepare_decay(coil_p, coil_p, Coupling::reflected, gates, stack.block()),
                             stack.block())[0];
  };
  CHECK(mean(c) == Approx(-(-7.4914879749e-7 + 2.0938965568e-5) / 90e-6).epsilon(1e-4));
  CHECK(mean(a) == Approx(-(5.0065302003e-5 - 3.2540956238e-5) / 90e-6).epsilon(1e-4));
}

TEST_CASE("Talbot's contour, gate by gate, gives the same voltages") {
  // Abate & Whitt, INFORMS J. Comput. 18, 408 (2006), from memory: M = 16.
  const Stack stack({{8e-6, 14e6, 80}, {25e-6, 58e6, 1}, {1.6e-3, 5.8e6, 150}}, 2e-3);
  const std::vector<DecayGate> gates{{2e-6, 0, 0}, {20e-6, 0, 0}, {300e-6, 0, 0}};
  const PreparedDecay prepared = prepare_decay(coil_p, coil_p, Coupling::reflected, gates, stack.block());
  const std::vector<double> v = prepared_voltages(prepared, stack.block());
  constexpr int terms = 16;
  for (std::size_t g = 0; g < gates.size(); ++g) {
    std::vector<Complex> s, gamma;
    for (int k = 0; k < terms; ++k) {
      const double angle = k * pi / terms, cot = k == 0 ? 0 : 1 / std::tan(angle);
      const Complex delta = k == 0 ? Complex(2.0 * terms / 5) : 2 * k * pi / 5 * Complex(cot, 1);
      s.push_back(delta / gates[g].time);
      gamma.push_back(std::exp(delta) * (k == 0 ? Complex(0.5) : Complex(1, angle * (1 + cot * cot) - cot)));
    }
    Columns mutual(2 * s.size(), 8);
    mutual_inductance(make_rule(coil_p, coil_p, Coupling::reflected, s, stack.block(), 1e-9), s, stack.block(), mutual);
    double sum = 0;
    for (std::size_t k = 0; k < s.size(); ++k)
      sum += (gamma[k] * Complex(mutual[2 * k][0], mutual[2 * k + 1][0])).real();
    CHECK(v[g] == Approx(-2 / (5 * gates[g].time) * sum).epsilon(1e-4));
  }
}

TEST_CASE("late decays follow the power laws of a half-space and of a sheet") {
  // t^-5/2 over a half-space; over a sheet (h + U t)^-4, h between the middles of the coils (from memory: central-loop
  // transient soundings, Maxwell's receding image). The half-space's series goes on as (mu sigma r^2 / t)^(1/2), the
  // sheet's as (r / (U t))^2.
  const Coil coil{2e-3, 5e-3, 2e-3, 1};
  const auto ratio = [&](const Stack& stack, double time) {
    const std::vector<DecayGate> gates{{time, 0, 0}, {2 * time, 0, 0}};
    const std::vector<double> v =
        prepared_voltages(prepare_decay(coil, coil, Coupling::reflected, gates, stack.block()), stack.block());
    return v[1] / v[0];
  };
  CHECK(ratio(Stack({{10.0, 0.3e6, 1}}, 1e-3), 4e-3) == Approx(std::exp2(-2.5)).epsilon(0.01));
  const double speed = 2 / (mu0 * 58e6 * 91e-6), time = 0.5e-3, h = 3e-3;
  CHECK(ratio(Stack({{91e-6, 58e6, 1}}, 1e-3), time) ==
        Approx(std::pow((h + 2 * speed * time) / (h + speed * time), -4)).epsilon(0.01));
}

TEST_CASE("gates that cannot be computed are refused with the reason") {
  const auto what = [](DecayGate gate) {
    const std::vector<Problem> problems = check_gate(gate, "sensor.channels.late");
    return problems.empty() ? std::string("fine") : problems[0].path + ": " + problems[0].what;
  };
  CHECK(what({10e-6, 2e-6, 1e-6}) == "fine");
  CHECK(what({1e-6, 0, 0}) == "fine");
  CHECK(what({2.5e-6, 1e-6, 1e-6}) == "fine");
  CHECK(what({10e-3, 0, 0}) == "fine");
  CHECK(what({10e-6, 2e-6, 9.5e-6}).find("ramp") != std::string::npos);
  CHECK(what({0.9e-6, 0, 0}).find("1 us") != std::string::npos);
  CHECK(what({10e-6, 2e-6, 8.5e-6}).find("1 us") != std::string::npos);
  CHECK(what({9.9e-3, 1e-3, 0}).find("10 ms") != std::string::npos);
  CHECK(what({-1e-6, 0, 0}).find("positive") != std::string::npos);
  CHECK(what({1e-6, -1e-6, 0}).find("positive") != std::string::npos);
  CHECK(what({std::nan(""), 0, 0}).find("positive") != std::string::npos);
}
