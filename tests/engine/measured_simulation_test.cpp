#include <algorithm>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/measured/simulation.hpp"
#include "engine/sampling/draws.hpp"

using namespace mintspread;
using namespace mintspread::measured;

namespace {

std::vector<double> drawn_from(const Placed& placed, std::size_t n, std::size_t run) {
  const Curve curve(placed);
  std::vector<double> values(n);
  sampling::uniforms(11, sampling::address_of("truth", run), 0, 0, values);
  for (double& u : values) u = curve.quantile({u, 1.0 - u});
  return values;
}

}  // namespace

TEST_CASE("intervals of the quantiles of a normal are those by the noncentral t") {
  // (mean - q) / (s / sqrt n) is noncentral t with n - 1 degrees of freedom and noncentrality -z sqrt n (N. L. Johnson
  // & B. L. Welch, Biometrika 31, 362 (1940)).
  const std::size_t n = 15;
  const Observations o = observe(drawn_from({18.0, sampling::Normal{0.7}}, n, 0), 0.0);
  const ShapeFit fit = fit_shape(Family::normal, o);
  const auto reach = simulate(fit, o, {.draws = 19999}).reach;
  REQUIRE(reach);
  const double root = std::sqrt(static_cast<double>(n));
  for (std::size_t i = 0; i < told_quantiles.size(); ++i) {
    const double z = quantile(boost::math::normal_distribution<>(), told_quantiles[i]);
    const boost::math::non_central_t law(static_cast<double>(n - 1), z * root);
    const double lower = o.mean + o.sd / root * quantile(law, 0.025);
    const double upper = o.mean + o.sd / root * quantile(law, 0.975);
    CAPTURE(told_quantiles[i]);
    // An end by 19999 samples has a standard error of 0.0011 in probability, which at the tail of the widest is 0.02 of
    // the interval; four of them.
    CHECK((*reach)[i].lower == Approx(lower).margin(0.05 * (upper - lower)));
    CHECK((*reach)[i].upper == Approx(upper).margin(0.05 * (upper - lower)));
  }
}

TEST_CASE("fewer than 39 samples give no interval, 39 their outermost") {
  const Observations o = observe(drawn_from({18.0, sampling::Normal{0.7}}, 15, 0), 0.0);
  const ShapeFit fit = fit_shape(Family::normal, o);
  CHECK_FALSE(simulate(fit, o, {.draws = 38}).reach);
  CHECK(simulate(fit, o, {.draws = 39}).reach);
}

TEST_CASE("intervals of quantiles hold the true ones as often as stated", "[slow]") {
  struct Case {
    Family family;
    Placed truth;
    std::size_t values;
    double step;
    double censored_below;
  };
  const double none = -1e300;
  const Case cases[] = {{Family::normal, {18.0, sampling::Normal{0.7}}, 12, 0.0, none},
                        {Family::normal, {18.0, sampling::Normal{0.7}}, 40, 0.5, none},
                        {Family::normal, {18.0, sampling::Normal{0.7}}, 60, 0.0, 17.5},
                        {Family::lognormal, {18.0, sampling::Lognormal{18.0, 0.3}}, 15, 0.0, none},
                        {Family::uniform, {18.0, sampling::Uniform{-1.5, 1.5}}, 20, 0.0, none},
                        {Family::two_piece_normal, {18.0, sampling::TwoPieceNormal{0.5, 0.9}}, 100, 0.0, none}};
  constexpr int runs = 600;
  for (const Case& one : cases) {
    const Curve law(one.truth);
    std::array<int, 3> covered{};
    for (int run = 0; run < runs; ++run) {
      std::vector<double> values;
      std::vector<Censored> censored;
      for (double x : drawn_from(one.truth, one.values, static_cast<std::size_t>(run))) {
        if (one.step > 0.0) x = one.step * std::round(x / one.step);
        if (x < one.censored_below)
          censored.push_back({one.censored_below, true});
        else
          values.push_back(x);
      }
      const Observations o = observe(values, one.step, censored);
      const auto reach =
          simulate(fit_shape(one.family, o), o, {.draws = 79, .seed = static_cast<std::uint64_t>(run)}).reach;
      REQUIRE(reach);
      for (std::size_t i = 0; i < 3; ++i) {
        const double p = told_quantiles[i], truth = law.quantile({p, 1.0 - p});
        covered[i] += (*reach)[i].lower <= truth && truth <= (*reach)[i].upper ? 1 : 0;
      }
    }
    CAPTURE(name_of(one.family), one.values, one.step, covered[0], covered[1], covered[2]);
    // 570 of 600 expected, standard deviation 5.3: three of them on either side, 21 (fixed seeds). A two-piece normal
    // has a shape besides its place and width.
    for (const int count : covered) {
      CHECK(count >= runs * 95 / 100 - 21);
      CHECK(count <= runs * 95 / 100 + 21);
    }
  }
}

TEST_CASE("many values are stood for by fewer, with intervals that shrink as the root of their number") {
  const Observations o = observe(drawn_from({18.0, sampling::Normal{0.7}}, 20000, 0), 0.0);
  const ShapeFit fit = fit_shape(Family::normal, o);
  const auto found = simulate(fit, o, {.draws = 999});
  CHECK_FALSE(found.p_value);
  REQUIRE(found.reach);
  // Large-sample standard error of the p-quantile of a normal: sd sqrt((1 + z^2 / 2) / n). 999 samples: the distance of
  // two of their order statistics has a standard error of some 4 %.
  const double z = quantile(boost::math::normal_distribution<>(), 0.99865);
  const double half = 1.96 * 0.7 * std::sqrt((1.0 + 0.5 * z * z) / 20000.0);
  CHECK((*found.reach)[2].upper - (*found.reach)[2].lower == Approx(2.0 * half).epsilon(0.12));
  CHECK((*found.reach)[1].upper - (*found.reach)[1].lower ==
        Approx(2.0 * 1.96 * 0.7 / std::sqrt(20000.0)).epsilon(0.12));
}
