#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <random>
#include <vector>

#include "engine/signature/gauss_rule.hpp"
#include "engine/signature/planar.hpp"
#include "tests/reference/planar_referee.hpp"

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using reference::Complex;
using reference::Layer;
using reference::Stacks;

TEST_CASE("a Gauss rule integrates every power of its variable that it promises") {
  // Weight k^2 exp(-k) on a fine sum; the rule of order n is exact for t^0 .. t^(2n-1) and, the check, not for t^(2n).
  Points weight;
  for (int i = 1; i < 4000; ++i) {
    const double k = 0.01 * i;
    weight.nodes.push_back(k);
    weight.weights.push_back(0.01 * k * k * std::exp(-k));
  }
  for (const Map map : {Map{1.0, 3.0}, Map{0.7, 2.0}, Map{0.5, 1.5}}) {
    const auto moment = [&](const Points& points, int power) {
      double sum = 0.0;
      const double centre = std::pow(map.scale, map.exponent);
      for (std::size_t j = 0; j < points.nodes.size(); ++j) {
        const double at = std::pow(points.nodes[j], map.exponent);
        sum += points.weights[j] * std::pow((at - centre) / (at + centre), power);
      }
      return sum;
    };
    GaussFamily family(weight, map);
    for (const std::size_t order : {9u, 3u, 20u}) {
      const Points rule = family.rule(order);
      REQUIRE(rule.nodes.size() == order);
      CHECK(std::is_sorted(rule.nodes.begin(), rule.nodes.end()));
      CHECK(*std::min_element(rule.weights.begin(), rule.weights.end()) > 0.0);
      const int exact = 2 * static_cast<int>(order) - 1;
      for (int power = 0; power <= exact; ++power)
        CHECK(std::abs(moment(rule, power) - moment(weight, power)) < 1e-13 * moment(weight, 0));
      if (order < 10) CHECK(std::abs(moment(rule, exact + 1) - moment(weight, exact + 1)) > 1e-12 * moment(weight, 0));
    }
  }
}

/// Jobs over the declared range: coils, a box of coins about a nominal one, frequencies.
class Jobs {
 public:
  explicit Jobs(unsigned seed) : engine_(seed) {}
  double uniform(double lower, double upper) { return std::uniform_real_distribution<double>(lower, upper)(engine_); }
  double logarithmic(double lower, double upper) { return std::exp(uniform(std::log(lower), std::log(upper))); }
  bool one_in(int n) { return std::uniform_int_distribution<int>(0, n - 1)(engine_) == 0; }

  Coil coil(double smallest, double largest) {
    const double outer = logarithmic(smallest, largest);
    return {outer * uniform(0.3, 0.9), outer, outer * uniform(0.2, 1.2), 1.0};
  }
  std::vector<Layer> coin() {
    std::vector<Layer> layers(static_cast<std::size_t>(uniform(1.0, 7.99)));
    for (std::size_t i = 0; i < layers.size(); ++i) {
      const bool core = i == layers.size() / 2;
      layers[i] = {core ? logarithmic(0.8e-3, 2.5e-3) : logarithmic(0.5e-6, 40e-6),
                   one_in(8) ? 0.0 : logarithmic(0.1e6, 60e6), one_in(2) ? logarithmic(1.0, 1000.0) : 1.0};
    }
    const auto air = [](const Layer& layer) { return layer.conductivity == 0.0 && layer.permeability == 1.0; };
    return std::ranges::all_of(layers, air) ? coin() : layers;
  }
  /// The nominal coin in lane 0 and others about it: on the edges of the box, or within.
  enum class Where { edge, inside };
  Stacks around(const std::vector<Layer>& nominal, double distance, std::size_t lanes, Where where) {
    Stacks stacks(nominal.size(), lanes);
    const auto factor = [&](double width) {
      return 1.0 + width * (where == Where::edge ? (one_in(2) ? 1.0 : -1.0) : uniform(-1.0, 1.0));
    };
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      for (std::size_t i = 0; i < nominal.size(); ++i)
        stacks.set(lane, i,
                   {nominal[i].thickness * factor(0.25), nominal[i].conductivity * factor(0.15),
                    // Within the declared range: a metal that is not magnetic stays so.
                    nominal[i].permeability > 1.0 ? std::max(1.0, nominal[i].permeability * factor(0.3)) : 1.0});
      stacks.set_distance(lane, distance * factor(0.3));
    }
    return stacks;
  }
  std::vector<Complex> frequencies() {
    std::vector<Complex> s;
    for (int count = static_cast<int>(uniform(1.0, 4.99)); count > 0; --count)
      s.push_back({0.0, 2.0 * pi * logarithmic(1e3, 1e7)});
    return s;
  }

 private:
  std::mt19937_64 engine_;
};

enum class Pairing { self, pair, through };

/// Error in the norm that planar.hpp states, against panels that know nothing of the rule.
double error(Pairing pairing, const Coil& drive, const Coil& receive, Complex s, const Stacks& stacks, std::size_t lane,
             Complex found) {
  const Coupling coupling = pairing == Pairing::through ? Coupling::transmitted : Coupling::reflected;
  const PlanarBlock block = stacks.block();
  const Complex exact = reference::integral(drive, receive, coupling, s, block, lane);
  double norm = std::abs(exact);
  if (pairing == Pairing::pair)
    norm = std::abs(reference::integral(drive, receive, coupling, s, block, lane, reference::Of::modulus));
  if (pairing == Pairing::through) {
    double gap = block.distance[lane];
    for (const LayerColumns& layer : block.layers) gap += layer.thickness[lane];
    const Stacks nothing({{0.0, 0.0, 1.0}}, gap);
    norm = std::max(norm, 1e-6 * std::abs(reference::integral(drive, receive, coupling, 0.0, nothing.block(), 0)));
  }
  return std::abs(found - exact) / norm;
}

TEST_CASE("the rule of a job holds 1e-6 for coins inside its box, and tells its error on the box honestly") {
  for (const Pairing pairing : {Pairing::self, Pairing::pair, Pairing::through}) {
    Jobs jobs(pairing == Pairing::self ? 101 : pairing == Pairing::pair ? 102 : 103);
    for (int job = 0; job < 15; ++job) {
      const Coil drive = jobs.coil(0.5e-3, 20e-3);
      const Coil receive = pairing == Pairing::pair ? jobs.coil(std::max(0.5e-3, 0.5 * drive.outer_radius),
                                                                std::min(20e-3, 2.0 * drive.outer_radius))
                                                    : drive;
      const double distance = 2.0 * jobs.logarithmic(0.05e-3, 5e-3);
      const std::vector<Layer> coin = jobs.coin();
      const std::vector<Complex> s = jobs.frequencies();
      const Stacks box = jobs.around(coin, distance, 64, Jobs::Where::edge),
                   inside = jobs.around(coin, distance, 8, Jobs::Where::inside);
      const Coupling coupling = pairing == Pairing::through ? Coupling::transmitted : Coupling::reflected;
      const PlanarRule rule = make_rule(drive, receive, coupling, s, box.block());
      CAPTURE(job, rule.nodes.size(), rule.error);
      CHECK(rule.error < 3e-7);
      // Smooth integrands: no job of the declared range needs more than a few dozen nodes, twice that for a pair.
      CHECK(rule.nodes.size() <= (pairing == Pairing::pair ? 80 : 40));
      CHECK(std::is_sorted(rule.nodes.begin(), rule.nodes.end()));
      Columns at_edge(2 * s.size(), 64), at_inside(2 * s.size(), 8);
      mutual_inductance(rule, s, box.block(), at_edge);
      mutual_inductance(rule, s, inside.block(), at_inside);
      for (std::size_t m = 0; m < s.size(); ++m) {
        const auto value = [&](const Columns& of, std::size_t lane) {
          return Complex(of[2 * m][lane], of[2 * m + 1][lane]);
        };
        CHECK(error(pairing, drive, receive, s[m], inside, 3, value(at_inside, 3)) < 1e-6);
        // 5 % for the norm of a pair, which is measured by a close lower bound, and what the referee itself is off.
        CHECK(error(pairing, drive, receive, s[m], box, 7, value(at_edge, 7)) < 1.05 * rule.error + 1e-10);
      }
    }
  }
}

TEST_CASE("a rule that cannot be had says so") {
  Jobs jobs(7);
  const Coil coil{2e-3, 5e-3, 2e-3, 1.0};
  const Stacks box = jobs.around({{20e-6, 57e6, 1}, {1.5e-3, 6.5e6, 120}}, 0.8e-3, 8, Jobs::Where::edge);
  const std::vector<Complex> s{{0.0, 1e5}};
  CHECK(make_rule(coil, coil, Coupling::reflected, s, box.block(), 1e-18).error > 1e-18);
}

TEST_CASE("a coin that is nothing but air has a rule, and reads nothing") {
  const Coil coil{2e-3, 5e-3, 2e-3, 1.0}, other{1e-3, 4e-3, 1e-3, 1.0};
  const Stacks air({{1e-3, 0.0, 1.0}}, 0.8e-3);
  const std::vector<Complex> s{{0.0, 1e5}};
  for (const Coil& receive : {coil, other}) {
    const PlanarRule rule = make_rule(coil, receive, Coupling::reflected, s, air.block());
    CHECK(rule.nodes.size() <= 64);
    CHECK(rule.error < 1e-6);
  }
}

TEST_CASE("the seven-layer reference job is content with ten nodes") {
  // Gauss-Legendre on the best single interval needs 28, Gauss-Laguerre 20 (measured for this project); on a box of 25
  // %.
  Jobs jobs(1);
  const Coil coil{2e-3, 5e-3, 2e-3, 1.0};
  const Layer outer{6e-6, 13e6, 60}, copper{18e-6, 57e6, 1}, inner{5e-6, 13e6, 60};
  const Stacks box =
      jobs.around({outer, copper, inner, {1.6e-3, 6.5e6, 120}, inner, copper, outer}, 0.8e-3, 24, Jobs::Where::edge);
  std::vector<Complex> s;
  for (const double frequency : {20e3, 60e3, 180e3, 500e3, 1.2e6}) s.push_back({0.0, 2.0 * pi * frequency});
  CHECK(make_rule(coil, coil, Coupling::reflected, s, box.block()).nodes.size() <= 10);
}

}  // namespace
