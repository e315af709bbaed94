#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <boost/math/tools/roots.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "engine/study/study.hpp"
#include "tests/support/plated_route.hpp"

using namespace mintspread;
using support::agrees;
using Reads = study::Sort::Reads;

namespace {

const boost::math::normal normal;
constexpr double open = std::numeric_limits<double>::infinity();

/// Thickness Y of a bare blank, in mm about its mean, read as X = Y + bias + error and accepted within +-limit: two
/// normals, so what is accepted of a window on X is an integral over Y.
struct ReadBlank {
  double sd = 0.03, error = 0.02, bias = 0.01, limit = 0.045;

  double kept(double from, double to) const {
    const double both = std::hypot(sd, error);
    return cdf(normal, (to - bias) / both) - cdf(normal, (from - bias) / both);
  }
  double accepted(double from, double to) const {
    const auto inside = [&](double y) {
      return pdf(normal, y / sd) / sd * (cdf(normal, (to - bias - y) / error) - cdf(normal, (from - bias - y) / error));
    };
    return boost::math::quadrature::gauss_kronrod<double, 61>::integrate(inside, -limit, limit, 15, 1e-12) /
           kept(from, to);
  }
  /// Half of the widest window that is accepted so far: by symmetry it lies about the bias.
  double widest(double at_least) const {
    boost::math::tools::eps_tolerance<double> close(40);
    std::uintmax_t steps = 100;
    const auto root = boost::math::tools::toms748_solve(
        [&](double half) { return accepted(bias - half, bias + half) - at_least; }, 0.01, 0.3, close, steps);
    return 0.5 * (root.first + root.second);
  }

  support::PlatedRoute route(double at_least) const {
    support::PlatedRoute made;
    made.bare();
    made.vary(made.blank, sd * 1e-3);
    const auto& read = made.sort("blanks", 1, Reads::thickness, {});
    made.model.sorts.back().path = "read.blanks";
    made.vary(read.repeatability, error * 1e-3, study::reading_level);
    made.input(read.bias).nominal = bias * 1e-3;
    made.model.windows = {{"counting", "", {made.window(1, 1.5 - limit, 1.5 + limit)}}};
    if (at_least > 0.0) made.model.targets = {{"accepted", "targets.accepted", "", at_least}};
    return made;
  }
};

}  // namespace

TEST_CASE("a reading on the way and the coin are the bivariate normal they are made of") {
  const ReadBlank blank;
  auto route = blank.route(0.97);
  const InputId diameter = std::get<route::Blank>(std::get<route::Route>(route.model.coin).steps[0]).diameter;
  route.vary(diameter, 0.02e-3);
  const auto result = route.run(262144);
  CHECK_FALSE(result.yield);  // nothing is sorted out
  REQUIRE(result.stages);
  // The reading, and of the blank what varies: thickness, diameter, mass.
  const auto& told = result.stages->quantities;
  REQUIRE(told.size() == 4);
  CHECK(told[0].name == "read blanks");
  CHECK(told[0].reads == "thickness");
  CHECK(told[1].name + " " + told[1].reads == "blank thickness");
  CHECK(told[2].name + " " + told[2].reads == "blank diameter");
  CHECK(told[3].name + " " + told[3].reads == "blank mass");
  // Channels are diameter, thickness, mass.
  agrees(told[0].correlations[1], blank.sd / std::hypot(blank.sd, blank.error));
  CHECK(told[1].correlations[1].value == Approx(1.0).epsilon(1e-12));
  const auto& nothing = told[2].correlations[1];
  REQUIRE(nothing.interval);
  CHECK(std::abs(nothing.value) < nothing.interval->upper - nothing.interval->lower);
  // Mass goes as d^2 t: relative spreads 2 x 0.02 / 21.7 and 0.03 / 1.5.
  const double of_diameter = 2.0 * 0.02 / 21.7, of_thickness = 0.03 / 1.5;
  CHECK(told[3].correlations[1].value == Approx(of_thickness / std::hypot(of_diameter, of_thickness)).margin(1e-3));

  const auto& window = told[0].windows.at(0);
  CHECK(window.machine_class == "counting");
  CHECK(window.at_least == 0.97);
  REQUIRE(window.cells.size() == 10);
  CHECK(window.cells.front().lower == -open);
  CHECK(window.cells.back().upper == open);
  double all = 0.0;
  for (const auto& cell : window.cells) {
    all += cell.pieces.value;
    CHECK(cell.pieces.value == Approx(0.1).margin(0.005));
    const double from = std::max(cell.lower - 1.5, -1.0), to = std::min(cell.upper - 1.5, 1.0);
    agrees(cell.pieces, blank.kept(from, to));
    agrees(cell.accepted, blank.accepted(from, to));
  }
  CHECK(all == Approx(1.0).epsilon(1e-12));
  REQUIRE(window.secures);
  const double from = window.secures->lower - 1.5, to = window.secures->upper - 1.5;
  agrees(window.secures->pieces, blank.kept(from, to));
  agrees(window.secures->accepted, blank.accepted(from, to));
  CHECK(blank.accepted(from, to) >= 0.97);
  // It keeps no more than the exact widest window, and no less than that of a target that lies higher by the bound's
  // 4.4 standard errors and four more, 8.4 sqrt(0.97 x 0.03 / 180000) = 0.0034, but for a cell at either end.
  const auto widest_kept = [&](double at_least) {
    const double half = blank.widest(at_least);
    return blank.kept(blank.bias - half, blank.bias + half);
  };
  CHECK(blank.kept(from, to) <= widest_kept(0.97));
  CHECK(blank.kept(from, to) >= widest_kept(0.9734) - 0.02);
}

TEST_CASE("a window that cuts nothing is open, and a target out of reach has none") {
  ReadBlank blank;
  const auto window_of = [&](double at_least, double bias) {
    blank.bias = bias;
    return blank.route(at_least).run(32768).stages->quantities[0].windows[0];
  };
  // Of all pieces 2 Phi(1.5) - 1 = 86.6 % are accepted.
  const auto all = window_of(0.85, 0.0);
  REQUIRE(all.secures);
  CHECK(all.secures->lower == -open);
  CHECK(all.secures->upper == open);
  CHECK(all.secures->pieces.value == 1.0);
  // Even at the best reading Y spreads by 1 / sqrt(1 / 0.03^2 + 1 / 0.02^2) = 0.0166: 99.33 % within 0.045.
  CHECK_FALSE(window_of(0.995, 0.0).secures);
  CHECK_FALSE(window_of(0.0, 0.0).secures);  // no target
  CHECK_FALSE(window_of(0.0, 0.0).at_least);
  CHECK(window_of(0.0, 0.0).cells.size() == 10);
}

TEST_CASE("one limit alone leaves the other end of the window open") {
  const ReadBlank blank;
  auto route = blank.route(0.99);
  route.model.windows[0].criteria = {route.window(1, 1.5 - 0.03, 1.7)};
  const auto window = route.run(65536).stages->quantities[0].windows[0];
  REQUIRE(window.secures);
  CHECK(std::isfinite(window.secures->lower));
  CHECK(window.secures->upper == open);
}

TEST_CASE("what a sort passed counts, after rework too, and of finished pieces only") {
  support::PlatedRoute route;
  route.bare();
  route.vary(route.blank, 0.03e-3);
  auto& sort = route.sort("blanks", 1, Reads::thickness, {1.47, 1.53});
  sort.times = 2;
  sort.redone = {"blank", "sort blanks"};
  route.model.windows = {{"counting", "", {route.window(1, 1.0, 2.0)}}};
  const auto told = route.run().stages->quantities;
  // A perfect gauge of the coin itself: the last reading is the coin's thickness, the first one was not.
  CHECK(told[0].name == "sort blanks");
  CHECK(told[0].correlations[1].value == Approx(1.0).epsilon(1e-12));
  const auto& cells = told[0].windows[0].cells;
  CHECK(cells.front().upper > 1.47);
  CHECK(cells.back().lower < 1.53);
  double all = 0.0;
  for (const auto& cell : cells) all += cell.pieces.value;
  CHECK(all == Approx(1.0).epsilon(1e-12));
}

TEST_CASE("readings on the way do not depend on threads, and what is not known gives them bands") {
  const ReadBlank blank;
  auto route = blank.route(0.97);
  CHECK(route.run(150000, 1).stages == route.run(150000, 3).stages);
  const InputId bias = route.model.sorts[0].bias;
  route.input(bias).known_to = study::KnownTo{-0.02e-3, 0.04e-3};
  const auto window = route.run(65536).stages->quantities[0].windows[0];
  REQUIRE(window.secures);
  REQUIRE(window.secures->accepted.band);
  // The same window on readings with another bias accepts fewer.
  CHECK(window.secures->accepted.band->lower < 0.96);
  CHECK(window.secures->accepted.band->upper >= window.secures->accepted.value);
}

TEST_CASE("told windows keep their word, and none is told where a reading tells nothing, over many runs", "[slow]") {
  // Plain draws of 16384 pieces, 200 seeds each. Few windows may break their word (5 % of runs at most; bound: four
  // standard errors more), and intervals cover as those of fixed windows (95 %, four standard errors less).
  constexpr std::size_t runs = 200;
  const auto run_seed = [](const study::Study& study, std::uint64_t seed) {
    study::RunOptions options;
    options.pieces = 16384;
    options.seed = seed;
    options.points = study::Points::plain;
    return study::run(study, options).stages->quantities;
  };
  const ReadBlank blank;
  const study::Study study(blank.route(0.96).model);
  std::size_t broken = 0, missed = 0, kept_missed = 0;
  for (std::uint64_t seed = 1; seed <= runs; ++seed) {
    const auto window = run_seed(study, seed)[0].windows[0].secures;
    REQUIRE(window);
    const double from = std::max(window->lower - 1.5, -1.0), to = std::min(window->upper - 1.5, 1.0);
    const double accepted = blank.accepted(from, to), kept = blank.kept(from, to);
    broken += accepted < 0.96 ? 1U : 0U;
    missed += accepted < window->accepted.interval->lower || accepted > window->accepted.interval->upper ? 1U : 0U;
    kept_missed += kept < window->pieces.interval->lower || kept > window->pieces.interval->upper ? 1U : 0U;
  }
  CHECK(broken <= 22);
  CHECK(missed <= 22);
  CHECK(kept_missed <= 22);
  // The diameter has nothing to do with a thickness of which 2 Phi(1.5) - 1 = 86.6 % are accepted, and 87 % are asked.
  auto idle = blank.route(0.87);
  idle.vary(std::get<route::Blank>(std::get<route::Route>(idle.model.coin).steps[0]).diameter, 0.02e-3);
  const study::Study without(idle.model);
  std::size_t told = 0;
  for (std::uint64_t seed = 1; seed <= runs; ++seed) {
    const auto quantities = run_seed(without, seed);
    REQUIRE(quantities[2].reads == "diameter");
    told += quantities[2].windows[0].secures ? 1U : 0U;
  }
  CHECK(told <= 22);
}
