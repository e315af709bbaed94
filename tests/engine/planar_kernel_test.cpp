#include <hwy/targets.h>

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstring>
#include <limits>
#include <random>
#include <string>
#include <vector>

#include "engine/signature/planar.hpp"
#include "engine/signature/planar_shortcuts.hpp"
#include "tests/reference/planar_referee.hpp"

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using reference::Complex;
using reference::Layer;
using reference::Stacks;

/// Cases over the whole declared range; the generator is seeded, so every run has the same ones.
class Range {
 public:
  explicit Range(unsigned seed) : engine_(seed) {}
  double uniform(double lower, double upper) { return std::uniform_real_distribution<double>(lower, upper)(engine_); }
  double logarithmic(double lower, double upper) { return std::exp(uniform(std::log(lower), std::log(upper))); }
  std::size_t below(std::size_t count) { return std::uniform_int_distribution<std::size_t>(0, count - 1)(engine_); }
  double gaussian() { return std::normal_distribution<double>()(engine_); }

  double thickness() { return logarithmic(0.5e-6, 4e-3); }
  double conductivity() { return below(6) == 0 ? 0.0 : logarithmic(0.1e6, 60e6); }
  double permeability() { return below(2) == 0 ? 1.0 : logarithmic(1.0, 1000.0); }

  Layer layer() { return {thickness(), conductivity(), permeability()}; }
  /// A plated coin: thin layers, a thick core, thin layers.
  std::vector<Layer> coin() {
    std::vector<Layer> layers(1 + below(7));
    const bool any = below(2) == 0;
    for (std::size_t i = 0; i < layers.size(); ++i) {
      layers[i] = layer();
      if (!any) layers[i].thickness = i == layers.size() / 2 ? logarithmic(1e-3, 2.5e-3) : logarithmic(0.5e-6, 40e-6);
    }
    return layers;
  }
  Stacks around(const std::vector<Layer>& nominal, double distance) {
    Stacks stacks(nominal.size(), 8);
    const double spread = below(2) == 0 ? 0.0 : 0.1;
    for (std::size_t lane = 0; lane < 8; ++lane) {
      for (std::size_t i = 0; i < nominal.size(); ++i) {
        Layer of = nominal[i];
        of.thickness *= std::abs(1.0 + spread * gaussian());
        of.conductivity *= std::abs(1.0 + spread * gaussian());
        of.permeability *= std::abs(1.0 + spread * gaussian());
        if (below(40) == 0) of.thickness = 0.0;
        stacks.set(lane, i, of);
      }
      stacks.set_distance(lane, distance * std::abs(1.0 + spread * gaussian()));
    }
    return stacks;
  }
  /// Harmonic, decay on the real axis, or a point of an inverse-Laplace contour in either half-plane.
  Complex frequency() {
    const double size = 2.0 * pi * logarithmic(1e3, 1e7);
    switch (below(4)) {
      case 0:
        return size;
      case 1:
        return std::polar(size, uniform(-0.8, 0.8) * pi);
      default:
        return {0.0, size};
    }
  }
  PlanarRule rule(Coupling coupling, double distance) {
    // Nodes and positive weights like those of coils of 0.5 to 20 mm radius; what the kernel makes of them is compared,
    // not the integral.
    const double radius = logarithmic(0.3e-3, 20e-3);
    PlanarRule rule;
    rule.coupling = coupling;
    rule.reference_distance = distance * uniform(0.8, 1.2);
    const std::size_t nodes = below(10) == 0 ? 70 : 6 + below(20);
    for (std::size_t j = 0; j < nodes; ++j) {
      const double x = (static_cast<double>(j) + 0.5) / static_cast<double>(nodes);
      const double k = 2.0 / radius * x / (1.02 - x);
      rule.nodes.push_back(k);
      rule.weights.push_back(1e-9 * std::pow(k * radius, 2) / (1.0 + std::pow(k * radius, 6)) *
                             std::exp(-k * rule.reference_distance));
    }
    return rule;
  }

 private:
  std::mt19937_64 engine_;
};

struct Case {
  PlanarRule rule;
  std::vector<Complex> s;
  Stacks stacks;
};

Case make_case(Range& range, Coupling coupling) {
  const double distance = 2.0 * range.logarithmic(0.05e-3, 5e-3);
  Case made{range.rule(coupling, distance), {}, range.around(range.coin(), distance)};
  for (int m = 0; m < 3; ++m) made.s.push_back(range.frequency());
  return made;
}

double error(const Case& of, Columns& out) {
  double worst = 0.0;
  for (std::size_t m = 0; m < of.s.size(); ++m)
    for (std::size_t lane = 0; lane < 8; ++lane) {
      const Complex exact = reference::mutual_inductance(of.rule, of.s[m], of.stacks.block(), lane);
      const double air = std::abs(reference::air(of.rule, of.stacks.block(), lane));
      // Reflected: relative to |dM|. Transmitted: of the value, or 1e-12 of the air value against a tolerance of 1e-6.
      // Both with what a sum of some ten doubles of the size of the air value may round.
      const double least = (of.rule.coupling == Coupling::reflected ? 1e-14 / 3e-7 : 1e-6) * air;
      const double off = std::abs(Complex(out[2 * m][lane], out[2 * m + 1][lane]) - exact);
      const double relative = off / std::max(std::abs(exact), least);
      if (!(relative <= worst)) worst = relative;
    }
  return worst;
}

TEST_CASE("the vector kernel keeps its part of the tolerance in every corner of the declared range") {
  for (const Coupling coupling : {Coupling::reflected, Coupling::transmitted}) {
    Range range(coupling == Coupling::reflected ? 11 : 12);
    for (int i = 0; i < 3000; ++i) {
      const Case at = make_case(range, coupling);
      Columns out(2 * at.s.size(), 8);
      mutual_inductance(at.rule, at.s, at.stacks.block(), out);
      const double off = error(at, out);
      CAPTURE(i);
      // Three tenths of the rule's tolerance of 1e-6 (planar.hpp).
      CHECK(off < 3e-7);
    }
  }
}

TEST_CASE("a faint foil keeps its six digits beside insulating layers") {
  // 1e-7 of the air value: an absolute error that a thicker coin would hide shows here.
  const std::vector<Layer> coin{{33e-6, 0.0, 1.0}, {0.5e-6, 0.1e6, 1.0}, {20e-6, 0.0, 1.0}};
  const Stacks stacks(coin, 0.2e-3);
  const std::vector<Complex> s{{0.0, 2.0 * pi * 1e3}};
  PlanarRule rule;
  for (double k = 200.0; k < 3e4; k *= 1.3) {
    rule.nodes.push_back(k);
    rule.weights.push_back(1e-9);
  }
  Columns out(2, 8);
  mutual_inductance(rule, s, stacks.block(), out);
  // First order in the foil: rho = -s mu0 sigma t / (2 k) exp(-2 k lacquer), next order 1e-6 of it.
  Complex expected = 0.0;
  for (std::size_t j = 0; j < rule.nodes.size(); ++j) {
    const double k = rule.nodes[j];
    const double sheet = mu0 * 0.1e6 * 0.5e-6;
    expected -= rule.weights[j] * std::exp(-k * 0.2e-3) * s[0] * sheet / (2.0 * k + s[0] * sheet) *
                std::exp(-2.0 * k * 33e-6) * (-std::expm1(-2.0 * k * 0.5e-6) / (2.0 * k * 0.5e-6));
  }
  CHECK(std::abs(Complex(out[0][1], out[1][1]) - expected) < 3e-7 * std::abs(expected));
}

TEST_CASE("a change against air that almost cancels keeps its six digits") {
  // On the real axis magnetisation and eddy currents take opposite signs: dM crosses zero. There no shortcut may be
  // taken that is small against the air value only.
  const std::vector<Layer> coin{{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, {1.6e-3, 6.5e6, 120}};
  const Stacks stacks(coin, 0.8e-3);
  PlanarRule rule;
  for (double k = 100.0; k < 3e3; k *= 1.4) {
    rule.nodes.push_back(k);
    rule.weights.push_back(1e-9 * std::exp(-k * 1e-3));
  }
  const auto exact = [&](double s) { return reference::mutual_inductance(rule, s, stacks.block(), 0).real(); };
  double lower = 1e4, upper = 1e7;
  REQUIRE(exact(lower) > 0.0);
  REQUIRE(exact(upper) < 0.0);
  while (std::abs(exact(lower)) > 1e-3 * std::abs(exact(1e7))) {
    const double middle = std::sqrt(lower * upper);
    (exact(middle) > 0.0 ? lower : upper) = middle;
  }
  const std::vector<Complex> s{lower};
  Columns out(2, 8);
  mutual_inductance(rule, s, stacks.block(), out);
  CHECK(std::abs(out[0][0] - exact(lower)) < 3e-7 * std::abs(exact(lower)));
}

TEST_CASE("a coin reads the same bits whatever coins lie beside it, also on another processor") {
  const Coil coil{2e-3, 5e-3, 2e-3, 1};
  const std::vector<Layer> nominal{{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, {5e-6, 13e6, 60}, {1.6e-3, 6.5e6, 120},
                                   {5e-6, 13e6, 60}, {18e-6, 57e6, 1}, {6e-6, 13e6, 60}};
  Range range(31);
  const auto fill = [&](Stacks& stacks, std::size_t lanes, double spread) {
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      for (std::size_t i = 0; i < nominal.size(); ++i) {
        const auto factor = [&] { return 1.0 + spread * range.uniform(-1.0, 1.0); };
        stacks.set(
            lane, i,
            {nominal[i].thickness * factor(), nominal[i].conductivity * factor(), nominal[i].permeability * factor()});
      }
      stacks.set_distance(lane, 0.8e-3 * (1.0 + spread * range.uniform(-1.0, 1.0)));
    }
  };
  Stacks box(nominal.size(), 32), coins(nominal.size(), 64);
  fill(box, 32, 0.1);
  fill(coins, 64, 0.1);
  // 1 kHz: no layer hides the next. Real s where dM almost vanishes: some lanes are computed again.
  const std::vector<Complex> s{{0.0, 2 * pi * 1e3}, {0.0, 2 * pi * 2e4}, {0.0, 2 * pi * 1.2e6}, 1.9e5, {-2e5, 4e5}};
  for (const Coupling coupling : {Coupling::reflected, Coupling::transmitted}) {
    const PlanarRule rule = make_rule(coil, coil, coupling, s, box.block());
    Columns together(2 * s.size(), 64), alone(2 * s.size(), 8), narrow(2 * s.size(), 64);
    mutual_inductance(rule, s, coins.block(), together);
    for (std::size_t lane = 0; lane < 64; lane += 7) {
      Stacks one(nominal.size(), 8);
      for (std::size_t copy = 0; copy < 8; ++copy) {
        for (std::size_t i = 0; i < nominal.size(); ++i) {
          const LayerColumns& of = coins.block().layers[i];
          one.set(copy, i, {of.thickness[lane], of.conductivity[lane], of.permeability[lane]});
        }
        one.set_distance(copy, coins.block().distance[lane]);
      }
      mutual_inductance(rule, s, one.block(), alone);
      for (std::size_t column = 0; column < 2 * s.size(); ++column) {
        CAPTURE(lane, column);
        CHECK(alone[column][2] == together[column][lane]);
      }
    }
    hwy::SetSupportedTargetsForTest(HWY_AVX2);
    mutual_inductance(rule, s, coins.block(), narrow);
    hwy::SetSupportedTargetsForTest(0);
    for (std::size_t column = 0; column < 2 * s.size(); ++column)
      CHECK(std::memcmp(together[column].data(), narrow[column].data(), 64 * sizeof(double)) == 0);
  }
}

TEST_CASE("a core that hides what lies below in most coins is looked through in the others") {
  const Coil coil{2e-3, 5e-3, 2e-3, 1};
  const auto coin = [](double thinner) -> std::vector<Layer> {
    return {{6e-6, 13e6, 60}, {1.6e-3 * thinner, 6.5e6 * thinner, 120 * thinner}, {30e-6, 57e6, 1}};
  };
  Stacks box(3, 8), coins(3, 64);
  for (std::size_t lane = 0; lane < 8; ++lane) {
    for (std::size_t i = 0; i < 3; ++i) box.set(lane, i, coin(lane % 2 == 0 ? 0.7 : 1.3)[i]);
    box.set_distance(lane, 0.8e-3);
  }
  // One coin of a box corner, where all makes for transparency, among 63 usual ones.
  constexpr std::size_t odd = 37;
  for (std::size_t lane = 0; lane < 64; ++lane) {
    for (std::size_t i = 0; i < 3; ++i) coins.set(lane, i, coin(lane == odd ? 0.7 : 1.0 + 1e-3 * double(lane % 8))[i]);
    coins.set_distance(lane, 0.8e-3);
  }
  const std::vector<Complex> s{{0.0, 2 * pi * 2e4}};
  const PlanarRule rule = make_rule(coil, coil, Coupling::reflected, s, box.block());
  const FrequencyPlan& plan = rule.shortcuts->frequencies[0].quick;
  REQUIRE(plan.opaque);
  REQUIRE(plan.lowest == 1);
  const auto square = [&](std::size_t lane) {
    const LayerColumns& core = coins.block().layers[1];
    return mu0 * core.permeability[lane] * core.conductivity[lane] * core.thickness[lane] * core.thickness[lane];
  };
  REQUIRE(square(odd) < plan.least_square);
  REQUIRE(square(0) > plan.least_square);
  Columns out(2, 64);
  mutual_inductance(rule, s, coins.block(), out);
  for (const std::size_t lane : {std::size_t{0}, odd, std::size_t{63}}) {
    const Complex exact = reference::mutual_inductance(rule, s[0], coins.block(), lane);
    CAPTURE(lane);
    CHECK(std::abs(Complex(out[0][lane], out[1][lane]) - exact) < 3e-7 * std::abs(exact));
  }
}

TEST_CASE("inside of a rule's box all points of a decay's contour keep the tolerance") {
  const Coil coil{2e-3, 5e-3, 2e-3, 1};
  const std::vector<Layer> nominal{{6e-6, 13e6, 60}, {20e-6, 57e6, 1}, {5e-6, 13e6, 60}, {1.6e-3, 6.5e6, 120}};
  Range range(41);
  const auto fill = [&](Stacks& stacks, std::size_t lanes, auto factor) {
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      for (std::size_t i = 0; i < nominal.size(); ++i)
        stacks.set(
            lane, i,
            {nominal[i].thickness * factor(), nominal[i].conductivity * factor(), nominal[i].permeability * factor()});
      stacks.set_distance(lane, 0.8e-3 * factor());
    }
  };
  Stacks box(nominal.size(), 64), coins(nominal.size(), 512);
  fill(box, 64, [&] { return range.below(2) == 0 ? 0.75 : 1.25; });
  fill(coins, 512, [&] { return range.uniform(0.75, 1.25); });
  const std::vector<Complex> s{{5e4, 2.6e4},    {-2.5e4, 1.4e5}, {-2.2e5, 2.9e5},
                               {-5.8e5, 5.1e5}, {-1.2e6, 8.6e5}, {-1.6e6, 1.1e6}};
  const PlanarRule rule = make_rule(coil, coil, Coupling::reflected, s, box.block());
  REQUIRE(rule.error < 3e-7);
  // Where |A| is not bounded from below, too: the whole stack is one pair of polynomials at every node.
  for (const PlannedFrequency& planned : rule.shortcuts->frequencies)
    CHECK(planned.quick.series_nodes == rule.nodes.size());
  Columns out(2 * s.size(), 512);
  mutual_inductance(rule, s, coins.block(), out);
  double worst = 0.0;
  for (std::size_t m = 0; m < s.size(); ++m)
    for (std::size_t lane = 0; lane < 512; ++lane) {
      const Complex exact = reference::mutual_inductance(rule, s[m], coins.block(), lane);
      worst = std::max(worst, std::abs(Complex(out[2 * m][lane], out[2 * m + 1][lane]) - exact) / std::abs(exact));
    }
  CHECK(worst < 3e-7);
}

TEST_CASE("coins far outside the rule's box are computed as well as the rule's nodes allow") {
  const Coil coil{2e-3, 5e-3, 2e-3, 1};
  const Stacks box({{6e-6, 13e6, 60}, {18e-6, 57e6, 1}, {1.6e-3, 6.5e6, 120}}, 0.8e-3);
  const std::vector<Complex> s{{0.0, 2 * pi * 2e4}, {0.0, 2 * pi * 1.2e6}};
  const PlanarRule rule = make_rule(coil, coil, Coupling::reflected, s, box.block());
  for (const Layer core :
       {Layer{0.2e-3, 6.5e6, 120}, Layer{1.6e-3, 0.5e6, 1}, Layer{0.0, 6.5e6, 120}, Layer{4e-3, 60e6, 1000}})
    for (const double scale : {0.1, 30.0}) {
      const Stacks coin({{6e-6 * scale, 13e6, 60}, {18e-6 * scale, 57e6, 1}, core}, 0.8e-3 * std::sqrt(scale));
      Columns out(4, 8);
      mutual_inductance(rule, s, coin.block(), out);
      for (std::size_t m = 0; m < 2; ++m) {
        const Complex exact = reference::mutual_inductance(rule, s[m], coin.block(), 0);
        CHECK(std::abs(Complex(out[2 * m][0], out[2 * m + 1][0]) - exact) < 3e-7 * std::abs(exact));
      }
    }
}

TEST_CASE("AVX2 and AVX-512 give the same bits") {
  if ((hwy::SupportedTargets() & HWY_AVX3) == 0) {
    WARN("this processor has no AVX-512: the comparison is skipped");
    return;
  }
  for (const Coupling coupling : {Coupling::reflected, Coupling::transmitted}) {
    Range range(coupling == Coupling::reflected ? 21 : 22);
    for (int i = 0; i < 1000; ++i) {
      const Case at = make_case(range, coupling);
      Columns wide(2 * at.s.size(), 8), narrow(2 * at.s.size(), 8);
      hwy::SetSupportedTargetsForTest(HWY_AVX3);
      REQUIRE(std::string(processor_path()) == "AVX3");
      mutual_inductance(at.rule, at.s, at.stacks.block(), wide);
      hwy::SetSupportedTargetsForTest(HWY_AVX2);
      REQUIRE(std::string(processor_path()) == "AVX2");
      mutual_inductance(at.rule, at.s, at.stacks.block(), narrow);
      hwy::SetSupportedTargetsForTest(0);
      for (std::size_t column = 0; column < wide.count(); ++column)
        REQUIRE(std::memcmp(wide[column].data(), narrow[column].data(), 8 * sizeof(double)) == 0);
    }
  }
}

}  // namespace
