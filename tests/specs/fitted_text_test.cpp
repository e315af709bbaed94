#include "specs/fitted_text.hpp"

#include <catch2/catch.hpp>

#include "engine/sampling/law.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using mintspread::test::skin;

namespace {

/// Quantile of an input that has one component, in um.
double quantile_um(const study::Input& input, double p) {
  REQUIRE(input.components.size() == 1);
  const auto& component = input.components[0];
  const double deviation = sampling::law_of(component.deviation)->quantile({p, 1.0 - p});
  return (input.nominal + deviation * (component.relative ? input.nominal : 1.0)) * 1e6;
}

}  // namespace

TEST_CASE("the reader takes a fitted line for the distribution it was written for") {
  const struct {
    double at;
    sampling::Shape shape;
  } rows[] = {{18.0123, sampling::Normal{0.7}},
              {18.0123, sampling::TruncatedNormal{1.0, -0.6, 1.4}},
              {18.0123, sampling::TwoPieceNormal{0.4, 1.1}},
              {18.0123, sampling::Lognormal{18.0123, 0.0412}},
              {18.0123, sampling::Uniform{-1.5, 1.4}},
              {18.0123, sampling::Triangular{-1.0, 0.3, 2.0}},
              {18.0123, sampling::Arcsine{-1.5, 1.5}},
              {18.0123, sampling::StudentT{0.5, 4.25}},
              {18.0123, sampling::CurvilinearTrapezoid{1.5, 0.5}},
              {18.0123, std::make_shared<const sampling::Mixture>(sampling::Mixture{
                            {{1.0 / 3.0, -0.8, sampling::Normal{0.4}}, {2.0 / 3.0, 0.4, sampling::Normal{0.5}}}})}};
  for (const auto& row : rows) {
    const std::string line = specs::fitted_text(row.at, row.shape, "um", ", basis: measured n=240");
    INFO(line);
    const study::Input read = skin(line);
    const auto law = sampling::law_of(row.shape);
    // A thousandth of the sd in each number moves a quantile three sd out by a few of them.
    for (double p : {0.00135, 0.1, 0.5, 0.9, 0.99865})
      CHECK(quantile_um(read, p) == Approx(row.at + law->quantile({p, 1.0 - p})).margin(0.006 * law->sd()));
    CHECK(read.basis == study::Basis::measured);
  }
}

TEST_CASE("a line with groups is read as components of those groups") {
  const auto read =
      skin(specs::fitted_text(18.2, sampling::Normal{0.55}, "um", ", varies: [0.31 um per lot, 0.29 um per barrel]"));
  REQUIRE(read.components.size() == 3);
  CHECK(std::get<sampling::Normal>(read.components[1].deviation).sd == Approx(0.31e-6));
  CHECK(read.components[0].level == study::piece_level);
}

TEST_CASE("small and pure numbers keep their digits") {
  CHECK(specs::fitted_text(1.2e-5, sampling::Normal{3e-8}, "m") == "{value: 0.000012 m, sd: 0.00000003 m}");
  CHECK(specs::fitted_text(120.0, sampling::Normal{25.0}, "") == "{value: 120, sd: 25}");
}
