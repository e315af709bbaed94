#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>

#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"
#include "tests/support/each_processor.hpp"
#include "tools/bench/reference_job.hpp"

using namespace mintspread;
using support::DiscModel;

namespace {

double normal_cdf(double z) { return cdf(boost::math::normal_distribution<>(), z); }

study::RunOptions pieces(std::uint64_t count, std::uint64_t seed = 1) {
  study::RunOptions options;
  options.pieces = count;
  options.seed = seed;
  options.threads = 2;
  return options;
}

/// Everything but what may differ between runs of the same study: threads and time.
study::Result without_times(study::Result result) {
  result.provenance.seconds = 0.0;
  result.provenance.threads = 0;
  return result;
}

}  // namespace

TEST_CASE("a normal dimension is read with its own mean, spread and quantiles") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  const auto result = study::run(study::Study(disc.model), pieces(262144));
  const auto& spread = result.channels[0].reading;
  const double n = 262144.0;
  // Closed forms; five standard errors of each statistic.
  CHECK(std::abs(spread.mean.value - 20.0) < 5.0 * 0.02 / std::sqrt(n));
  CHECK(std::abs(spread.sd.value - 0.02) < 5.0 * 0.02 / std::sqrt(2.0 * n));
  for (const auto& quantile : spread.quantiles) {
    const boost::math::normal_distribution<> normal(20.0, 0.02);
    const double exact = boost::math::quantile(normal, quantile.probability);
    const double error = std::sqrt(quantile.probability * (1.0 - quantile.probability) / n) / pdf(normal, exact);
    INFO("p = " << quantile.probability);
    CHECK(std::abs(quantile.figure.value - exact) < 5.0 * error + spread.resolution);
    CHECK(quantile.figure.interval->lower < exact + 3.0 * error);
    CHECK(quantile.figure.interval->upper > exact - 3.0 * error);
  }
  // The constant channel: its value, no spread, no false precision.
  CHECK(result.channels[1].reading.sd.value == 0.0);
  CHECK(result.channels[1].reading.quantiles[0].figure.value == Approx(2.0).epsilon(1e-15));
}

TEST_CASE("windows on independent channels accept the product of their parts") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.vary(disc.thickness, 0.03e-3);
  disc.model.windows = {{"counting", "", {disc.window(0, 19.97, 20.05), disc.window(1, 1.95, 2.04)}}};
  const auto result = study::run(study::Study(disc.model), pieces(262144));
  const auto& set = result.windows[0];
  const double diameter = normal_cdf(2.5) - normal_cdf(-1.5);
  const double thickness = normal_cdf(4.0 / 3.0) - normal_cdf(-5.0 / 3.0);
  const auto check = [](const study::Figure& figure, double exact) {
    INFO("exact " << exact << " found " << figure.value);
    CHECK(std::abs(figure.value - exact) < 5.0 * std::sqrt(exact * (1.0 - exact) / 262144.0));
    CHECK(figure.interval->lower < figure.value);
    CHECK(figure.interval->upper > figure.value);
  };
  check(set.criteria[0].accepted, diameter);
  check(set.criteria[1].accepted, thickness);
  check(set.accepted, diameter * thickness);
  check(set.criteria[0].rejected_low, normal_cdf(-1.5));
  check(set.criteria[0].rejected_high, normal_cdf(-2.5));
  check(set.criteria[0].rejected, 1.0 - diameter);
  check(set.criteria[0].rejected_only_here, (1.0 - diameter) * thickness);
  REQUIRE(set.worst);
  CHECK(*set.worst == 1);
}

TEST_CASE("correlated dimensions are rejected together") {
  // Bivariate normal orthant: P(both above their means) = 1/4 + asin(r) / (2 pi) (Sheppard 1899, from memory), r from
  // the rank correlation 0.6: 2 sin(pi 0.6 / 6).
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.vary(disc.thickness, 0.03e-3);
  disc.model.correlations = {{disc.diameter, disc.thickness, 0.6, "correlations.0"}};
  disc.model.windows = {{"counting", "", {disc.window(0, 20.0, 30.0), disc.window(1, 2.0, 3.0)}}};
  const auto result = study::run(study::Study(disc.model), pieces(262144));
  const double r = 2.0 * std::sin(pi * 0.6 / 6.0);
  const double exact = 0.25 + std::asin(r) / (2.0 * pi);
  CHECK(std::abs(result.windows[0].accepted.value - exact) < 5.0 * std::sqrt(exact * (1.0 - exact) / 262144.0));
}

TEST_CASE("nothing rejected is told with an interval, not as certainty") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.model.windows = {{"counting", "", {disc.window(0, 19.0, 21.0)}}};
  const auto result = study::run(study::Study(disc.model), pieces(65536));
  CHECK(result.windows[0].accepted.value == 1.0);
  CHECK(result.windows[0].accepted.interval->lower ==
        Approx(std::pow(0.025, 1.0 / 65536)).epsilon(1e-9));  // closed form of the exact bound
  CHECK_FALSE(result.windows[0].worst);
}

TEST_CASE("a centre that is not known gives a band and leaves the spread alone") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.input(disc.diameter).known_to = study::KnownTo{19.9e-3, 20.1e-3};
  auto options = pieces(65536);
  options.outer_draws = 24;
  options.outer_pieces = 8192;
  const auto result = study::run(study::Study(disc.model), options);
  const auto& mean = result.channels[0].reading.mean;
  REQUIRE(mean.band);
  // A Latin hypercube of 24 puts one draw in the first and one in the last 24th of the range.
  CHECK(mean.band->lower < 19.9 + 0.2 / 24 + 0.001);
  CHECK(mean.band->lower > 19.899);
  CHECK(mean.band->upper > 20.1 - 0.2 / 24 - 0.001);
  CHECK(mean.value == Approx(20.0).epsilon(1e-5));
  CHECK(result.channels[0].reading.sd.value == Approx(0.02).epsilon(0.02));
  CHECK_FALSE(study::run(study::Study(DiscModel().model), pieces(8192)).channels[0].reading.mean.band);
}

TEST_CASE("pieces out of tolerance are counted, not removed") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.input(disc.diameter).tolerance = {19.96e-3, 20.04e-3};
  const auto result = study::run(study::Study(disc.model), pieces(262144));
  const auto& input = result.inputs[index(disc.diameter)];
  REQUIRE(input.out_of_tolerance);
  const double exact = 2.0 * normal_cdf(-2.0);
  CHECK(std::abs(input.out_of_tolerance->value - exact) < 5.0 * std::sqrt(exact / 262144.0));
  CHECK(result.channels[0].reading.pieces == 262144);
}

TEST_CASE("pieces that cannot be made are counted, kept by index, and widen the intervals") {
  DiscModel disc;
  disc.vary(disc.thickness, 1e-3);  // two standard deviations from no thickness at all
  disc.input(disc.thickness).smallest = 0.0;
  disc.model.inputs[index(disc.model.sensor.slot.width)].nominal = 10e-3;
  disc.model.windows = {{"counting", "", {disc.window(1, 0.0, 9.0)}}};
  const auto result = study::run(study::Study(disc.model), pieces(65536));
  const double exact = normal_cdf(-2.0);
  CHECK(std::abs(static_cast<double>(result.unsolved) / 65536.0 - exact) < 5.0 * std::sqrt(exact / 65536.0));
  CHECK(result.first_unsolved.size() == 10);
  CHECK(result.windows[0].accepted.value == 1.0);
  CHECK(result.windows[0].accepted.interval->lower < 1.0 - exact);
}

TEST_CASE("any number of threads gives the same result") {
  const study::Study study(bench::ReferenceJob::model());
  auto options = pieces(3 * 65536 + 1000);
  options.threads = 1;
  const auto one = without_times(study::run(study, options));
  for (const std::size_t threads : {2U, 7U}) {
    options.threads = threads;
    CHECK(without_times(study::run(study, options)) == one);
  }
  options.seed = 2;
  CHECK_FALSE(without_times(study::run(study, options)) == one);
}

TEST_CASE("editing one quantity leaves the draws of the others alone") {
  DiscModel first, second;
  first.vary(first.diameter, 0.02e-3);
  second.vary(second.thickness, 0.03e-3);  // drawn before the diameter
  second.vary(second.diameter, 0.02e-3);
  const auto a = study::run(study::Study(first.model), pieces(8192));
  const auto b = study::run(study::Study(second.model), pieces(8192));
  CHECK(a.channels[0].reading == b.channels[0].reading);
}

TEST_CASE("the benchmark's nominal coin reads as computed by two programs of other make") {
  // Impedance of the reference job in ohm, 20 kHz to 1.2 MHz: computed for this project by adaptive high-precision
  // quadrature. The rule of the run holds 1e-6 of |dZ|.
  const double exact[] = {1.736321315354e-4, 7.274185861643e-5,  4.925839539520e-4, -2.754438447685e-4,
                          7.747138310611e-4, -1.683219711197e-3, 9.317497849111e-4, -5.248544542166e-3,
                          1.229895657973e-3, -1.287589329282e-2};
  const auto result = study::nominal_reading(study::Study(bench::ReferenceJob::model()));
  for (std::size_t f = 0; f < 5; ++f) {
    const double size = std::hypot(exact[2 * f], exact[2 * f + 1]);
    CHECK(std::abs(result.channels[2 * f].nominal - exact[2 * f]) < 1e-6 * size);
    CHECK(std::abs(result.channels[2 * f + 1].nominal - exact[2 * f + 1]) < 1e-6 * size);
  }
}

TEST_CASE("a run gives the same bytes on every processor family") {
  for (const auto& model : {bench::ReferenceJob::model(), bench::ReferenceJob::with_gates()}) {
    const study::Study study(model);
    const auto here = without_times(study::run(study, pieces(16384)));
    for_each_processor([&](const char* processor) {
      CAPTURE(processor);
      auto there = without_times(study::run(study, pieces(16384)));
      there.provenance.processor_path = here.provenance.processor_path;
      CHECK((there == here));
    });
  }
}

TEST_CASE("a run that is asked to stop says so and returns nothing") {
  std::stop_source source;
  source.request_stop();
  auto options = pieces(8192);
  options.stop = source.get_token();
  CHECK_THROWS_AS(study::run(study::Study(DiscModel().model), options), study::Interrupted);
}

TEST_CASE("a correlation of something that does not vary is refused by name") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.model.correlations = {{disc.diameter, disc.thickness, 0.6, "correlations.0"}};
  try {
    const study::Study study(disc.model);
    FAIL("accepted");
  } catch (const InvalidSpecification& invalid) {
    REQUIRE(invalid.problems().size() == 1);
    CHECK(invalid.problems()[0].path == "correlations.0");
    CHECK(invalid.problems()[0].what.find("section.layers.disc.thickness") != std::string::npos);
  }
}

TEST_CASE(
    "of more factors than the Sobol' points have coordinates the least important are drawn plainly, and said so") {
  DiscModel disc;
  // First in the file, and least important: 4000 small components of the diameter, then the thickness.
  for (int i = 0; i < 4000; ++i) disc.vary(disc.diameter, 1e-7);
  disc.vary(disc.thickness, 0.03e-3);
  const study::Study study(disc.model);
  const auto result = study::run(study, pieces(65536));
  const auto warned = result.warnings;
  REQUIRE(warned.size() == 1);
  CHECK(warned[0] ==
        "section.diameter: the 335 of 4002 random factors that matter least, from one of this quantity on, are drawn "
        "plainly: Sobol' points have 3667 coordinates");
  // A mean of plain draws would have a standard error of 0.03 / 256 = 1.2e-4.
  CHECK(std::abs(result.channels[1].reading.mean.value - 2.0) < 1e-6);
  CHECK(result.channels[0].reading.sd.value == Approx(1e-4 * std::sqrt(4000.0)).epsilon(0.02));
}

TEST_CASE("a million pieces of inputs without variance are all alike, and one piece is no reason to fail") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.0);
  disc.vary(disc.thickness, 0.0);
  disc.model.windows = {{"counting", "", {disc.window(0, 19.97, 20.05)}}};
  for (const auto points : {study::Points::plain, study::Points::sobol}) {
    auto options = pieces(1000000);
    options.points = points;
    const auto result = study::run(study::Study(disc.model), options);
    const auto& spread = result.channels[0].reading;
    CHECK(spread.mean.value == Approx(20.0).epsilon(1e-15));
    CHECK(spread.sd.value == 0.0);
    CHECK(spread.sd.interval == study::Interval{0.0, 0.0});
    CHECK(spread.quantiles[3].figure.interval->upper == spread.quantiles[3].figure.value);
    CHECK(result.windows[0].accepted.value == 1.0);
    CHECK(result.windows[0].accepted.interval->lower > 0.999996);
    CHECK(result.windows[0].accepted.interval->lower < 1.0);
  }
  disc.vary(disc.diameter, 0.02e-3);
  const auto one = study::run(study::Study(disc.model), pieces(1));
  CHECK(one.channels[0].reading.pieces == 1);
  CHECK(one.channels[0].reading.mean.value == one.channels[0].reading.median.value);
  CHECK(one.windows[0].accepted.interval->upper == 1.0);
  CHECK(one.provenance.pieces == 1);
}
