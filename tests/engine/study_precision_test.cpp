#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>

#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"

using namespace mintspread;
using study::Precision;
using support::DiscModel;

namespace {

DiscModel disc() {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.vary(disc.thickness, 0.03e-3);
  disc.model.windows = {{"counting", "", {disc.window(0, 19.97, 20.05), disc.window(1, 1.95, 2.04)}},
                        {"vending", "", {disc.window(0, 19.98, 20.02)}}};
  return disc;
}

double accepted_by_counting() {
  const boost::math::normal_distribution<> score;
  return (cdf(score, 2.5) - cdf(score, -1.5)) * (cdf(score, 4.0 / 3.0) - cdf(score, -5.0 / 3.0));
}

study::RunOptions until(Precision::Of of, const std::string& name, double half_width, study::Points points) {
  study::RunOptions options;
  options.pieces = 16384;
  options.points = points;
  options.until = Precision{of, name, 0.99865, half_width};
  return options;
}

}  // namespace

TEST_CASE("a run goes on until the figure is as precise as was asked for, and equals a run of that many pieces") {
  const study::Study study(disc().model);
  for (const auto points : {study::Points::plain, study::Points::sobol}) {
    for (const auto& options :
         {until(Precision::Of::accepted, "counting", 4e-4, points), until(Precision::Of::accepted, "", 6e-4, points),
          until(Precision::Of::quantile, "diameter", 2e-4, points)}) {
      auto result = study::run(study, options);
      REQUIRE(result.precision);
      INFO(result.precision->figure << " " << result.precision->reached << " after " << result.provenance.pieces);
      CHECK(result.precision->met);
      CHECK(result.precision->reached <= result.precision->wanted);
      CHECK(result.provenance.pieces > 16384);
      auto fixed = options;
      fixed.until.reset();
      fixed.pieces = result.provenance.pieces;
      auto again = study::run(study, fixed);
      result.precision.reset();
      result.provenance.seconds = again.provenance.seconds = 0.0;
      CHECK(result == again);
    }
  }
}

TEST_CASE("every class has to be as precise as was asked for where none is named") {
  const study::Study study(disc().model);
  const auto result = study::run(study, until(Precision::Of::accepted, "", 1e-3, study::Points::plain));
  for (const auto& set : result.windows) {
    CHECK(set.accepted.value - set.accepted.interval->lower <= 1e-3);
    CHECK(set.accepted.interval->upper - set.accepted.value <= 1e-3);
  }
}

TEST_CASE("the most pieces allowed end a run whose figure is not yet precise, and the result says so") {
  const study::Study study(disc().model);
  for (const auto points : {study::Points::plain, study::Points::sobol}) {
    auto options = until(Precision::Of::accepted, "counting", 1e-7, points);
    options.until->most_pieces = 100000;
    const auto result = study::run(study, options);
    CHECK_FALSE(result.precision->met);
    CHECK(result.precision->reached > result.precision->wanted);
    CHECK(result.provenance.pieces >= 100000);
    CHECK(result.provenance.pieces < 110000);  // whole nets
  }
}

TEST_CASE("a figure without spread is precise at once") {
  const study::Study study(DiscModel().model);
  const auto result = study::run(study, until(Precision::Of::mean, "thickness", 1e-9, study::Points::sobol));
  CHECK(result.precision->met);
  CHECK(result.precision->reached == 0.0);
  CHECK(result.provenance.pieces == 16384);
}

TEST_CASE("a precision of what the specification does not have is a problem with its remedy") {
  const auto model = disc().model;
  const auto problem = [&](Precision precision) { return study::check(precision, model); };
  CHECK_FALSE(problem({Precision::Of::accepted, "", 0.0, 0.1}));
  CHECK_FALSE(problem({Precision::Of::accepted, "vending", 0.0, 0.1}));
  CHECK_FALSE(problem({Precision::Of::quantile, "diameter", 0.975, 0.1, "mm"}));
  CHECK(problem({Precision::Of::accepted, "vendin", 0.0, 0.1})->remedy == "did you mean 'vending'?");
  CHECK(problem({Precision::Of::mean, "diametre", 0.0, 0.1})->what == "there is no channel 'diametre'");
  CHECK(problem({Precision::Of::quantile, "diameter", 0.9, 0.1})->what == "the 90 % quantile is not among the figures");
  CHECK(problem({Precision::Of::sd, "diameter", 0.0, 0.1, "um"})->what == "'diameter' reads in mm, not in um");
  CHECK(study::check({Precision::Of::accepted, "", 0.0, 0.1}, DiscModel().model));
}

TEST_CASE("stopping when precise leaves the 95 % interval its coverage", "[.][slow][coverage]") {
  // Stopping at the first luckily narrow interval would show as coverage below 95 %: 93 to 97 % over 1000 seeds, of
  // which luck moves 0.7 % (one standard error).
  const study::Study study(disc().model);
  const double exact = accepted_by_counting();
  for (const auto points : {study::Points::plain, study::Points::sobol}) {
    // About what the first attempt reaches: by luck half of the seeds would stop there.
    const double wanted = points == study::Points::plain ? 6.16e-3 : 7.2e-4;
    int held = 0;
    for (std::uint64_t seed = 1; seed <= 1000; ++seed) {
      auto options = until(Precision::Of::accepted, "counting", wanted, points);
      options.seed = seed;
      options.coin_spread = false;
      const auto result = study::run(study, options);
      const auto& interval = *result.windows[0].accepted.interval;
      held += interval.lower <= exact && exact <= interval.upper ? 1 : 0;
    }
    INFO((points == study::Points::plain ? "plain" : "Sobol'"));
    CHECK(held >= 930);
    CHECK(held <= 970);
  }
}
