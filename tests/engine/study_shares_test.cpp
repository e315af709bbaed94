#include <catch2/catch.hpp>
#include <cmath>

#include "engine/study/budget.hpp"
#include "engine/study/compare.hpp"
#include "engine/study/lots.hpp"
#include "engine/study/shares.hpp"
#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"

using namespace mintspread;
using support::DiscModel;

namespace {

const study::Share& share_of(const study::ChannelResult& channel, study::ShareKind kind, const std::string& name) {
  for (const auto& share : channel.shares) {
    if (share.kind == kind && share.name == name) return share;
  }
  FAIL("no share of " << name);
  return channel.shares.front();
}

study::RunOptions pieces(std::uint64_t count) {
  study::RunOptions options;
  options.pieces = count;
  options.threads = 2;
  return options;
}

}  // namespace

TEST_CASE("an additive reading's shares are its variances over their sum") {
  // thickness = 2 mm + piece (sd 0.03) + load (sd 0.04) + lot (0), noise 0.05: variances 9 : 16 : 25 of 50.
  DiscModel disc;
  disc.vary(disc.thickness, 0.03e-3);
  disc.vary(disc.thickness, 0.04e-3, 3);
  const auto noise = disc.add("sensor.channels.thickness.noise", 0.0);
  disc.vary(noise, 0.05e-3, study::reading_level);
  disc.model.sensor.channels[1].noise = noise;
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  study::add_shares(study.prepared(), {}, result);
  const auto check = [&](study::ShareKind kind, const std::string& name, double exact) {
    const auto& share = share_of(result.channels[1], kind, name);
    INFO(name << ": exact " << exact << ", first order " << share.first_order.value << ", total " << share.total.value);
    // Half-widths are two standard errors; three of them are six.
    CHECK(std::abs(share.first_order.value - exact) <
          1.5 * (share.first_order.interval->upper - share.first_order.interval->lower));
    CHECK(std::abs(share.total.value - exact) < 1.5 * (share.total.interval->upper - share.total.interval->lower));
    CHECK(share.total.interval->upper - share.total.interval->lower < 0.05);
  };
  check(study::ShareKind::step, "section", 0.5);
  check(study::ShareKind::step, "noise", 0.5);
  check(study::ShareKind::tolerance, "section.layers.disc.thickness", 0.5);
  check(study::ShareKind::level, "piece", 0.18);
  check(study::ShareKind::level, "load", 0.32);
  check(study::ShareKind::level, "reading", 0.5);
}

TEST_CASE("correlated quantities of different steps stand as one block") {
  DiscModel disc;
  disc.vary(disc.thickness, 0.03e-3);
  disc.vary(disc.diameter, 0.02e-3);
  disc.model.correlations = {{disc.thickness, disc.diameter, 0.5, "correlations.0"}};
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  study::add_shares(study.prepared(), {}, result);
  const auto& joint =
      share_of(result.channels[1], study::ShareKind::tolerance, "section.layers.disc.thickness + section.diameter");
  CHECK(joint.total.value == Approx(1.0).margin(0.03));
}

TEST_CASE("the budget of a gauge is its own inputs, and stack-ups are the textbook sums") {
  // Worst case 0.06 + 0.05 and root sum square hypot(0.06, 0.05) of the stated tolerances, +-0.06 mm on the layer and
  // noise of sd 0.05/3 mm counted to 3 sd (worst-case and root-sum-square stack-up, common practice).
  DiscModel disc;
  disc.vary(disc.thickness, 0.02e-3);
  disc.input(disc.thickness).tolerance = {1.94e-3, 2.06e-3};
  disc.vary(disc.model.sensor.slot.play, 0.01e-3, study::reading_level);  // does not move a gauge
  const auto noise = disc.add("sensor.channels.thickness.noise", 0.0);
  disc.vary(noise, 0.05e-3 / 3.0, study::reading_level);
  disc.model.sensor.channels[1].noise = noise;
  disc.model.sensor.channels[1].resolution = 0.5e-3;  // coarse: the budget looks through it
  const study::Study study(disc.model);
  const auto budget = study::budgets(study.prepared())[1];
  REQUIRE(budget.entries.size() == 2);
  CHECK(budget.entries[0].input == index(disc.thickness));
  CHECK(budget.entries[0].sensitivity.value == Approx(1000.0).epsilon(1e-9));  // mm per m
  CHECK(budget.entries[0].contribution.value == Approx(0.02).epsilon(1e-9));
  CHECK(budget.worst_case.value == Approx(0.11).epsilon(1e-9));
  CHECK(budget.root_sum_square.value == Approx(std::hypot(0.06, 0.05)).epsilon(1e-9));
}

TEST_CASE("tolerances of a stack add up as in the textbook example") {
  // F. Scholz, "Tolerance Stack Analysis Methods", 1995: four parts with tolerances .10, .12, .08 and .05 stack to .35
  // in the worst case and to the root of the sum of squares; evaluated.
  DiscModel disc;
  auto section = std::get<route::Section>(disc.model.coin);
  const double tolerances[] = {0.10e-3, 0.12e-3, 0.08e-3, 0.05e-3};
  for (std::size_t i = 0; i < 4; ++i) {
    if (i > 0) {
      section.layers.push_back(section.layers.front());
      section.layers[i].name = "part " + std::to_string(i);
      section.layers[i].thickness = disc.add("section.layers.part " + std::to_string(i) + ".thickness", 0.1e-3);
    }
    const InputId thickness = section.layers[i].thickness;
    disc.vary(thickness, tolerances[i] / 3.0);
    const double nominal = disc.input(thickness).nominal;
    disc.input(thickness).tolerance = {nominal - tolerances[i], nominal + tolerances[i]};
  }
  disc.model.coin = section;
  const auto budget = study::budgets(study::Study(disc.model).prepared())[1];
  CHECK(budget.worst_case.value == Approx(0.35).epsilon(1e-9));
  CHECK(budget.root_sum_square.value == Approx(0.1824828759).epsilon(1e-9));
}

TEST_CASE("a budget's band is what an unknown quantity makes of the effects of others") {
  DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.input(disc.thickness).known_to = study::KnownTo{1.9e-3, 2.1e-3};
  disc.add_channel("product", signature::Value::expression, "diameter * thickness");
  const study::Study study(disc.model);
  auto result = study::run(study, pieces(4096));
  study::add_budgets(study.prepared(), result);
  // d(product)/d(diameter) is the thickness, somewhere between 1.9 and 2.1 mm; 24 draws by strata of its range reach
  // to within a stratum of the ends.
  const auto& entry = result.channels[2].budget->entries.at(0);
  CHECK(entry.contribution.value == Approx(0.02 * 2.0).epsilon(1e-9));
  REQUIRE(entry.contribution.band);
  CHECK(entry.contribution.band->lower > 0.02 * 1.9);
  CHECK(entry.contribution.band->lower < 0.02 * (1.9 + 0.2 / 24));
  CHECK(entry.contribution.band->upper < 0.02 * 2.1);
  CHECK(entry.contribution.band->upper > 0.02 * (2.1 - 0.2 / 24));
  CHECK(entry.sensitivity.band->upper == Approx(entry.contribution.band->upper / 0.02e-3).epsilon(1e-9));
  // A gauge of the diameter alone does not depend on it.
  const auto& gauge = result.channels[0].budget->entries.at(0).contribution;
  CHECK(gauge.band->upper - gauge.band->lower < 1e-9 * gauge.value);
}

TEST_CASE("the parts of a used window add up to its half-width") {
  DiscModel disc;
  disc.vary(disc.thickness, 0.03e-3);
  disc.vary(disc.thickness, 0.04e-3, 3);
  disc.input(disc.thickness).known_to = study::KnownTo{1.99e-3, 2.01e-3};
  disc.model.windows = {{"counting", "", {disc.window(1, 1.8, 2.3)}}};
  const study::Study study(disc.model);
  auto result = study::run(study, pieces(65536));
  study::add_budgets(study.prepared(), result);
  const auto& use = result.windows[0].criteria[0].use;
  REQUIRE(use);
  CHECK(use->half_width == Approx(0.25));
  CHECK(use->off_centre.value == Approx(0.05).margin(0.002));
  REQUIRE(use->levels.size() == 2);
  CHECK(use->levels[0].part.value == Approx(0.15 * 9.0 / 25.0).epsilon(0.02));
  CHECK(use->levels[1].part.value == Approx(0.15 * 16.0 / 25.0).epsilon(0.02));
  CHECK(use->not_known == Approx(0.01).epsilon(0.1));
  CHECK(use->off_centre.value + use->levels[0].part.value + use->levels[1].part.value + use->not_known +
            use->left.value ==
        Approx(use->half_width));
  // The mean's and the standard deviation's own uncertainty, carried over.
  const auto& reading = result.channels[1].reading;
  const double mean_half = 0.5 * (reading.mean.interval->upper - reading.mean.interval->lower);
  const double reach_half = 1.5 * (reading.sd.interval->upper - reading.sd.interval->lower);
  CHECK(use->off_centre.interval->upper - use->off_centre.interval->lower == Approx(2.0 * mean_half).epsilon(1e-6));
  CHECK(use->levels[1].part.interval->lower == Approx(3.0 * reading.sd.interval->lower * 16.0 / 25.0).epsilon(0.01));
  CHECK(use->left.interval->upper - use->left.value == Approx(std::hypot(mean_half, reach_half)).epsilon(1e-6));
  CHECK(use->off_centre.band->upper == Approx(0.06).margin(0.002));
}

TEST_CASE("lots, loads and pieces get back the spreads they were given") {
  DiscModel disc;
  disc.vary(disc.thickness, 0.03e-3);
  disc.vary(disc.thickness, 0.04e-3, 3);
  disc.vary(disc.thickness, 0.05e-3, 2);
  disc.model.windows = {{"counting", "", {disc.window(1, 1.9, 2.1)}}};
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  study::LotOptions options;
  options.threads = 2;
  study::add_lots(study.prepared(), options, result);
  REQUIRE(result.lots);
  CHECK(result.lots->lot == "lot");
  CHECK(result.lots->load == "load");
  const auto& components = result.lots->channels[1].components;
  REQUIRE(components.size() == 4);
  const std::pair<std::string, double> exact[] = {{"lot", 0.05}, {"load", 0.04}, {"piece", 0.03}};
  for (std::size_t k = 0; k < 3; ++k) {
    INFO(components[k].name << " " << components[k].sd.value);
    CHECK(components[k].name == exact[k].first);
    CHECK(components[k].sd.value == Approx(exact[k].second).epsilon(0.05));
    CHECK(components[k].sd.interval->lower < exact[k].second);
    CHECK(components[k].sd.interval->upper > exact[k].second);
  }
  const auto& window = result.lots->windows[0];
  REQUIRE(window.chances.size() == 5);
  CHECK(window.rejected[2].figure.value > window.rejected[0].figure.value);
  for (std::size_t r = 1; r < window.chances.size(); ++r)
    CHECK(window.chances[r].chance.value <= window.chances[r - 1].chance.value);
  // The lots' mean is the long-run fraction: P(|N(0, sqrt(.05^2 + .04^2 + .03^2))| > 0.1) = 0.1573 (normal tables).
  CHECK(window.mean_rejected.interval->lower < 0.1573 + 0.02);
  CHECK(window.mean_rejected.interval->upper > 0.1573 - 0.02);
}

TEST_CASE("pieces of a load share its draw and loads differ") {
  DiscModel disc;
  disc.vary(disc.thickness, 0.04e-3, 3);
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  study::add_lots(study.prepared(), {}, result);
  const auto& components = result.lots->channels[1].components;
  REQUIRE(components.size() == 1);  // within a load: nothing
  CHECK(components[0].name == "load");
  CHECK(components[0].sd.value == Approx(0.04).epsilon(0.01));
}

TEST_CASE("a specification without groups has no lots") {
  DiscModel disc;
  disc.model.groups.resize(2);
  disc.vary(disc.thickness, 0.03e-3);
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  CHECK_THROWS_AS(study::add_lots(study.prepared(), {}, result), InvalidSpecification);
}

TEST_CASE("a specification compared with itself differs by exactly nothing") {
  DiscModel disc;
  disc.vary(disc.thickness, 0.03e-3);
  disc.model.windows = {{"counting", "", {disc.window(1, 1.95, 2.05)}}};
  const study::Study study(disc.model);
  const auto comparison = study::compare(study, study, pieces(65536));
  CHECK(comparison.channels[1].mean.difference.value == 0.0);
  CHECK(comparison.channels[1].mean.difference.interval->upper == 0.0);
  CHECK(comparison.windows[0].accepted.difference.value == 0.0);
  CHECK(comparison.windows[0].accepted.difference.interval->upper > 0.0);  // no pieces changed, but more pieces might
}

TEST_CASE("a shifted nominal is found to far below the sampling error of either run") {
  DiscModel first, second;
  first.vary(first.thickness, 0.03e-3);
  second.vary(second.thickness, 0.03e-3);
  second.input(second.thickness).nominal = 2.001e-3;
  const auto comparison = study::compare(study::Study(first.model), study::Study(second.model), pieces(65536));
  CHECK(comparison.channels[1].mean.difference.value == Approx(0.001).epsilon(1e-9));
  CHECK(comparison.channels[1].mean.difference.interval->upper -
            comparison.channels[1].mean.difference.interval->lower <
        1e-9);
}
