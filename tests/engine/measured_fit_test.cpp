#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/measured/fit.hpp"
#include "engine/measured/summary.hpp"
#include "engine/sampling/draws.hpp"
#include "tests/reference/oxide.hpp"

using namespace mintspread;
using namespace mintspread::measured;

namespace {

std::vector<double> dyestuff() { return {test::dyestuff_yield.begin(), test::dyestuff_yield.end()}; }

/// The quantiles of a law at n even steps: a sample without luck.
std::vector<double> quantiles(const Placed& placed, std::size_t n) {
  const Curve curve(placed);
  std::vector<double> out;
  for (std::size_t i = 0; i < n; ++i) {
    const double p = (static_cast<double>(i) + 0.5) / static_cast<double>(n);
    out.push_back(curve.quantile({p, 1.0 - p}));
  }
  return out;
}

std::vector<double> rounded(std::vector<double> values, double step) {
  for (double& value : values) value = step * std::round(value / step);
  return values;
}

const Placed examples[] = {{18.0, sampling::Normal{0.7}},
                           {18.0, sampling::TwoPieceNormal{0.4, 1.1}},
                           {18.0, sampling::Lognormal{18.0, 0.2}},
                           {18.0, sampling::StudentT{0.5, 3.5}},
                           {18.0, sampling::Uniform{-1.5, 1.5}},
                           {18.0, sampling::Triangular{-1.0, 0.0, 2.0}},
                           {18.0, sampling::Arcsine{-1.5, 1.5}},
                           {18.0, sampling::CurvilinearTrapezoid{1.5, 0.5}},
                           {18.0, sampling::TruncatedNormal{1.0, -0.65, 1.45}},
                           {17.6, std::make_shared<const sampling::Mixture>(sampling::Mixture{
                                      {{0.6, -0.8, sampling::Normal{0.4}}, {0.4, 1.2, sampling::Normal{0.5}}}})}};

}  // namespace

TEST_CASE("the likeliest normal and lognormal of the dyestuff yields are the closed forms") {
  // Yields from the R package lme4; meanlog 7.330565134348, sdlog 0.040558679472 with divisor n (R, package MASS,
  // fitdistr).
  const Observations o = observe(dyestuff(), 0.0);
  const ShapeFit normal = fit_shape(Family::normal, o);
  CHECK(normal.placed.at == Approx(1527.5).epsilon(1e-12));
  CHECK(*normal.a_squared > 0.0);
  const ShapeFit logs = fit_shape(Family::lognormal, o);
  CHECK(std::log(logs.placed.at) == Approx(7.330565134348).margin(5e-13));
  CHECK(std::get<sampling::Lognormal>(logs.placed.deviation).log_sd == Approx(0.040558679472).margin(5e-13));
  // ln L of a normal at its maximum is -n/2 (ln(2 pi s^2) + 1).
  const double s = std::get<sampling::Normal>(normal.placed.deviation).sd;
  CHECK(normal.log_likelihood == Approx(-15 * (std::log(2 * M_PI * s * s) + 1)).epsilon(1e-12));
  CHECK(normal.aicc == Approx(2 * 2 - 2 * normal.log_likelihood + 2.0 * 2 * 3 / (30 - 3)).epsilon(1e-12));
}

TEST_CASE("the judgement of normality is the published one, whatever shapes stand beside it") {
  // R package nortest, ad.test on the dyestuff yields: A^2 = 0.5095931844, p = 0.182471541.
  for (const ShapeFit& fit : fit_shapes(observe(dyestuff(), 0.0), {.draws = 0}))
    if (fit.family == Family::normal) {
      CHECK(*fit.a_squared == Approx(0.5095931844).epsilon(1e-9));
      CHECK(*fit.p_value == Approx(0.182471541).epsilon(1e-8));
      CHECK(fit.judged == Judged::formula);
    }
}

TEST_CASE("the density of every fitted shape is the slope of its distribution function") {
  for (const Placed& placed : examples) {
    const Curve curve(placed);
    for (double x : {17.05, 17.45, 18.3, 19.1}) {
      CAPTURE(placed.deviation.index(), x);
      constexpr double h = 1e-5;
      const double slope = (curve.below(x + h) - curve.below(x - h)) / (2 * h);
      CHECK(std::exp(curve.log_density(x)) == Approx(slope).epsilon(1e-6).margin(1e-9));
    }
  }
}

TEST_CASE("each shape is found again in values of its own, rounded or not", "[slow]") {
  std::size_t i = 0;
  for (const Family family : families) {
    const Placed& truth = examples[i++];
    const Curve law(truth);
    for (double step : {0.0, 0.05}) {
      CAPTURE(name_of(family), step);
      const auto values = quantiles(truth, 1000);
      const Observations o = observe(step > 0.0 ? rounded(values, step) : values, step);
      const bool cut = family == Family::truncated_normal;
      const ShapeFit fit = fit_shape(family, o, cut ? std::optional(Kept{17.35, 19.45}) : std::nullopt);
      REQUIRE(fit.obstacle.empty());
      // A sample's largest likelihood is above that of the truth, and by little.
      const double at_truth = log_likelihood(law, o);
      // (Of an unrounded arcsine the ends are not the likeliest ones, which are infinitely likely.)
      if (std::isfinite(at_truth) && !(family == Family::arcsine && step == 0.0))
        CHECK(fit.log_likelihood >= at_truth - 1e-6);
      const Curve found(fit.placed);
      // Ends that rounding blurs are known to half a step.
      for (double p : {0.01, 0.1, 0.3, 0.5, 0.7, 0.9, 0.99})
        CHECK(found.quantile({p, 1 - p}) == Approx(law.quantile({p, 1 - p})).margin(0.03 * law.sd() + 0.5 * step));
    }
  }
}

TEST_CASE("the criterion picks the shape the values came from among those that differ from it", "[slow]") {
  const auto best = [](const Placed& truth) {
    return fit_shapes(observe(rounded(quantiles(truth, 200), 0.1), 0.1), {.draws = 0}).front().family;
  };
  CHECK(best(examples[0]) == Family::normal);
  CHECK(best(examples[1]) == Family::two_piece_normal);
  CHECK(best(examples[4]) == Family::uniform);
  CHECK(best(examples[6]) == Family::arcsine);
  CHECK(best(examples[9]) == Family::mixture);
}

TEST_CASE("few normal values told finely are not taken for an arcsine") {
  for (const std::size_t n : {10UL, 20UL, 60UL}) {
    const auto values = rounded(quantiles(examples[0], n), 1e-3);
    for (const double step : {0.0, 1e-3}) {
      const Observations o = observe(values, step);
      CAPTURE(n, step);
      CHECK(fit_shape(Family::arcsine, o).aicc > fit_shape(Family::normal, o).aicc);
    }
  }
}

TEST_CASE("coarse rounding takes nothing from the spread") {
  // The variance of rounded values is larger by step^2 / 12 (W. F. Sheppard, 1898): with a step of one standard
  // deviation the plain one is 4 % too large. The interval likelihood is not.
  const Placed truth{18.0, sampling::Normal{1.0}};
  const Observations o = observe(rounded(quantiles(truth, 20000), 1.0), 1.0);
  CHECK(o.sd == Approx(std::sqrt(1.0 + 1.0 / 12.0)).epsilon(2e-3));
  CHECK(fit_shape(Family::normal, o).sd == Approx(1.0).epsilon(2e-3));
}

TEST_CASE("readings known only to lie beyond a limit count as such") {
  // Type I censoring of a normal at its median: half of the values are only "< 18".
  const Placed truth{18.0, sampling::Normal{0.7}};
  std::vector<double> values;
  std::vector<Censored> censored;
  for (double x : quantiles(truth, 2000))
    if (x < 18.0)
      censored.push_back({18.0, true});
    else
      values.push_back(x);
  const Observations o = observe(values, 0.0, censored);
  const ShapeFit fit = fit_shape(Family::normal, o);
  CHECK(fit.placed.at == Approx(18.0).margin(0.01));
  CHECK(fit.sd == Approx(0.7).epsilon(0.01));
  CHECK_FALSE(fit.a_squared);
  // Left out, they would make it another distribution.
  CHECK(observe(values, 0.0).mean > 18.5);
}

TEST_CASE("values sorted before they were measured give back the spread before the sort") {
  // sd of a standard normal cut at +-1 is 0.539560093755 (closed form).
  const Placed truth{18.0, sampling::TruncatedNormal{1.0, -1.0, 1.0}};
  const Observations o = observe(quantiles(truth, 4000), 0.0);
  CHECK(o.sd == Approx(0.539560093755).epsilon(1e-3));
  const ShapeFit fit = fit_shape(Family::truncated_normal, o, Kept{17.0, 19.0});
  CHECK(std::get<sampling::TruncatedNormal>(fit.placed.deviation).sd == Approx(1.0).epsilon(0.01));
  CHECK(fit.sd == Approx(0.539560093755).epsilon(1e-3));
  CHECK(fit.estimated == 2);
}

TEST_CASE("bins change a fit by next to nothing") {
  const auto values = quantiles(examples[1], 20000);
  const Observations fine = observe(values, 0.0, {}, 30000), binned = observe(values, 0.0);
  CHECK(binned.binned);
  CHECK(binned.cells.size() < 1500);
  const ShapeFit a = fit_shape(Family::two_piece_normal, fine), b = fit_shape(Family::two_piece_normal, binned);
  CHECK(b.sd == Approx(a.sd).epsilon(1e-4));
  CHECK(b.placed.at == Approx(a.placed.at).margin(1e-3));
}

TEST_CASE("a simulated probability of a worse fit is large for the right shape and small for a wrong one", "[slow]") {
  const FitOptions options{.draws = 99};
  const Placed uniform{18.0, sampling::Uniform{-1.5, 1.5}};
  std::vector<double> drawn(60);
  sampling::uniforms(7, sampling::address_of("test", 0), 0, 0, drawn);
  for (double& u : drawn) u = 16.5 + 3.0 * u;
  for (const ShapeFit& fit : fit_shapes(observe(drawn, 0.0), options))
    if (fit.family == Family::uniform) {
      REQUIRE(fit.judged == Judged::simulated);
      CHECK(*fit.p_value > 0.02);
      CHECK(*fit.p_value <= 1.0);
    }
  // The sample without luck fits its own law better than any drawn sample does, and a wrong one worse.
  const auto lean = quantiles({18.0, sampling::TwoPieceNormal{0.05, 1.0}}, 120);
  for (const ShapeFit& fit : fit_shapes(observe(lean, 0.0), options)) {
    if (fit.family == Family::normal) CHECK(*fit.p_value < 0.01);
    if (fit.family == Family::two_piece_normal && fit.p_value) CHECK(*fit.p_value > 0.5);
  }
}

TEST_CASE("pairs of quantiles hold every extreme and lie on the line for a sample without luck") {
  for (const std::size_t n : {12UL, 25UL, 41UL, 1000UL, 30000UL}) {
    const Observations o = observe(quantiles(examples[0], n), 0.0, {}, 100000);
    MeasuredResult result;
    describe({fit_shape(Family::normal, o)}, o, result);
    CAPTURE(n);
    CHECK(result.pairs.size() <= 125);
    CHECK(result.pairs.size() >= std::min<std::size_t>(n, 100));
    CHECK(result.pairs.front().observed == o.smallest);
    CHECK(result.pairs.back().observed == o.largest);
    for (std::size_t i = 1; i < result.pairs.size(); ++i)
      CHECK(result.pairs[i].observed > result.pairs[i - 1].observed);
    double expected = 0.0;
    for (const Bar& bar : result.bars) expected += bar.expected;
    CHECK(expected == Approx(static_cast<double>(n)).epsilon(0.08));
    for (const QuantilePair& pair : result.pairs) CHECK(pair.expected == Approx(pair.observed).margin(0.1));
  }
}
