#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <string>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/signature/disc_solve.hpp"

// Derivatives from the solution itself against central differences of whole solutions, each with a mesh of its own.

namespace {

using namespace mintspread;
using namespace mintspread::signature;
using Complex = std::complex<double>;

constexpr DiscMeshing mesh{6, 1.2, 0.6, 0.002, 0.0003, 100.0, 0.5};

struct Arrangement {
  Disc disc;
  std::vector<DiscCoil> coils;
};

Arrangement invented(bool raised) {
  const Coil face{2e-3, 5e-3, 2e-3, 200}, rim{9.5e-3, 12.5e-3, 2e-3, 120};
  Arrangement made{{22e-3,
                    1.5e-3,
                    0.9e-3,
                    raised ? 0.13e-3 : 0.0,
                    raised ? 0.11e-3 : 0.0,
                    {6.7e6, 113},
                    {{8e-6, 7e-6, 12e-6, 6e-6, 5e-6, {13e6, 58}}, {22e-6, 24e-6, 45e-6, 20e-6, 21e-6, {55e6, 1}}}},
                   {{face, Side::above, 0.4e-3}, {rim, Side::above, 0.5e-3}, {face, Side::below, 0.6e-3}}};
  if (!raised)
    for (auto& layer : made.disc.layers) {
      layer.rim_top_up = layer.face_up;
      layer.rim_top_down = layer.face_down;
    }
  return made;
}

struct Parameter {
  std::string name;
  std::function<double&(Arrangement&)> value;
  std::function<Complex(const DiscGradient&)> derivative;
  double step;
};

std::vector<Parameter> parameters(bool raised) {
  std::vector<Parameter> all{{"diameter", [](Arrangement& a) -> double& { return a.disc.diameter; },
                              [](const DiscGradient& g) { return g.diameter; }, 2e-5},
                             {"field thickness", [](Arrangement& a) -> double& { return a.disc.field_thickness; },
                              [](const DiscGradient& g) { return g.field_thickness; }, 2e-5},
                             {"core conductivity", [](Arrangement& a) -> double& { return a.disc.core.conductivity; },
                              [](const DiscGradient& g) { return g.core.conductivity; }, 1e4},
                             {"core permeability", [](Arrangement& a) -> double& { return a.disc.core.permeability; },
                              [](const DiscGradient& g) { return g.core.permeability; }, 0.1},
                             {"gap 0", [](Arrangement& a) -> double& { return a.coils[0].gap; },
                              [](const DiscGradient& g) { return g.gaps[0]; }, 1e-6},
                             {"gap 1", [](Arrangement& a) -> double& { return a.coils[1].gap; },
                              [](const DiscGradient& g) { return g.gaps[1]; }, 1e-6},
                             {"gap 2", [](Arrangement& a) -> double& { return a.coils[2].gap; },
                              [](const DiscGradient& g) { return g.gaps[2]; }, 1e-6}};
  for (std::size_t i = 0; i < 2; ++i) {
    const auto add = [&](const std::string& name, double DiscLayer::*of, Complex DiscGradient::Layer::*part) {
      all.push_back({"layer " + std::to_string(i) + " " + name,
                     [=](Arrangement& a) -> double& { return a.disc.layers[i].*of; },
                     [=](const DiscGradient& g) { return g.layers[i].*part; }, 2e-7});
    };
    add("rim", &DiscLayer::rim, &DiscGradient::Layer::rim);
    if (raised) {
      add("face up", &DiscLayer::face_up, &DiscGradient::Layer::face_up);
      add("face down", &DiscLayer::face_down, &DiscGradient::Layer::face_down);
      add("rim top up", &DiscLayer::rim_top_up, &DiscGradient::Layer::rim_top_up);
      add("rim top down", &DiscLayer::rim_top_down, &DiscGradient::Layer::rim_top_down);
    }
    all.push_back({"layer conductivity", [=](Arrangement& a) -> double& { return a.disc.layers[i].metal.conductivity; },
                   [=](const DiscGradient& g) { return g.layers[i].metal.conductivity; }, 1e4});
    all.push_back({"layer permeability", [=](Arrangement& a) -> double& { return a.disc.layers[i].metal.permeability; },
                   [=](const DiscGradient& g) { return g.layers[i].metal.permeability; }, i == 0 ? 0.1 : 1e-3});
  }
  if (raised) {
    all.push_back({"rim width", [](Arrangement& a) -> double& { return a.disc.rim_width; },
                   [](const DiscGradient& g) { return g.rim_width; }, 1e-5});
    all.push_back({"rim height up", [](Arrangement& a) -> double& { return a.disc.rim_height_up; },
                   [](const DiscGradient& g) { return g.rim_height_up; }, 1e-6});
    all.push_back({"rim height down", [](Arrangement& a) -> double& { return a.disc.rim_height_down; },
                   [](const DiscGradient& g) { return g.rim_height_down; }, 1e-6});
  }
  return all;
}

/// Every one of the parameters, or every second, third, ...
void compare(bool raised, Complex s, std::size_t every) {
  const Arrangement nominal = invented(raised);
  const auto solution = solve_on_mesh(nominal.disc, nominal.coils, s, mesh, true);
  REQUIRE(solution.gradients.size() == 9);
  const auto all = parameters(raised);
  for (std::size_t at = 0; at < all.size(); at += every) {
    const Parameter& parameter = all[at];
    Arrangement up = nominal, down = nominal;
    parameter.value(up) += parameter.step;
    parameter.value(down) -= parameter.step;
    const auto above = solve_on_mesh(up.disc, up.coils, s, mesh, false);
    const auto under = solve_on_mesh(down.disc, down.coils, s, mesh, false);
    Arrangement copy = nominal;
    const double size = std::abs(parameter.value(copy));
    for (std::size_t i = 0; i < 9; ++i) {
      const Complex difference = (above.mutual[i] - under.mutual[i]) / (2.0 * parameter.step);
      const Complex found = parameter.derivative(solution.gradients[i]);
      INFO(parameter.name << ", pair " << i << ", s " << s << ": " << found << " against " << difference
                          << "; logarithmic " << size * std::abs(difference) / std::abs(solution.mutual[i]));
      // Both solutions carry 1e-5 of error that meshes do not share, of which differences show the change: a part of
      // 1e-3 of the derivative, or what moves M by 1e-5 when the parameter doubles.
      CHECK(std::abs(found - difference) < 2e-3 * std::abs(difference) + 1e-5 * std::abs(solution.mutual[i]) / size);
    }
  }
}

}  // namespace

TEST_CASE("Gradients of a plated disc equal differences of solutions", "[disc][slow]") {
  compare(false, {0.0, 2.0 * pi * 6e4}, 2);
}

TEST_CASE("Gradients of a coin with a raised rim equal differences of solutions", "[disc][slow]") {
  compare(true, {0.0, 2.0 * pi * 2.4e5}, 1);
}

TEST_CASE("Gradients at a point of a decay contour equal differences of solutions", "[disc][slow]") {
  compare(true, {-3e4, 1.5e5}, 4);
}
