#include <boost/math/distributions/normal.hpp>
#include <boost/math/quadrature/gauss_kronrod.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

#include "engine/route/form.hpp"
#include "engine/study/lots.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/study.hpp"
#include "tests/support/plated_route.hpp"

using namespace mintspread;
using Piece = coin::CoinBlock::Piece;
using Of = coin::CoinBlock::Of;

namespace {

using support::agrees;
using Route = support::PlatedRoute;

constexpr double um = 1e-6;
const boost::math::normal normal;

}  // namespace

TEST_CASE("a perfect gauge leaves the truncated normal") {
  Route route;
  route.bare();
  route.vary(route.blank, 0.03e-3);
  route.sort("blanks", 1, study::Sort::Reads::thickness, {1.47, 1.53});
  const auto result = route.run();
  const double kept = cdf(normal, 1.0) - cdf(normal, -1.0);
  agrees(result.yield->finished, kept);
  agrees(result.yield->sorts[0].scrapped, 1.0 - kept);
  // Variance of the standard normal cut at +-1: 1 - 2 phi(1) / (2 Phi(1) - 1).
  agrees(result.channels[1].reading.sd, 0.03 * std::sqrt(1.0 - 2.0 * pdf(normal, 1.0) / kept));
  CHECK(result.channels[1].reading.smallest >= 1.47);
  CHECK(result.channels[1].reading.largest <= 1.53);
  CHECK(result.channels[1].reading.pieces == result.yield->finished_pieces);
  CHECK(result.channels[1].undefined == 0);
  CHECK(result.yield->metals.empty());
}

TEST_CASE("a gauge with error sorts by what it reads, and what it lets through is as the two normals say") {
  Route route;
  route.bare();
  const double sd = 0.03, error = 0.012, bias = 0.005, limit = 0.04;
  route.vary(route.blank, sd * 1e-3);
  const auto& sort = route.sort("blanks", 1, study::Sort::Reads::thickness, {1.5 - limit, 1.5 + limit});
  route.vary(sort.repeatability, error * 1e-3, study::reading_level);
  route.input(sort.bias).nominal = bias * 1e-3;
  route.model.windows = {{"counting", "", {route.window(1, 1.5 - limit, 1.5 + limit)}}};
  const auto result = route.run(262144);
  // Readings are normal with both variances; a good and a bad piece by the integral over the true thickness.
  const auto passes = [&](double x) {
    return cdf(normal, (limit - bias - x) / error) - cdf(normal, (-limit - bias - x) / error);
  };
  const auto integral = [&](double from, double to) {
    return boost::math::quadrature::gauss_kronrod<double, 61>::integrate(
        [&](double x) { return pdf(normal, x / sd) / sd * passes(x); }, from, to, 15, 1e-12);
  };
  const double both = std::hypot(sd, error);
  const double kept = cdf(normal, (limit - bias) / both) - cdf(normal, (-limit - bias) / both);
  CHECK(integral(-10 * sd, 10 * sd) == Approx(kept).epsilon(1e-10));
  agrees(result.yield->sorts[0].scrapped, 1.0 - kept);
  agrees(result.windows[0].accepted, integral(-limit, limit) / kept);
  CHECK(std::abs((1.0 - result.windows[0].accepted.value) / (1.0 - integral(-limit, limit) / kept) - 1.0) < 0.05);
}

TEST_CASE("rework draws anew and leaves a mixture") {
  Route route;
  route.bare();
  route.vary(route.blank, 0.03e-3);
  auto& sort = route.sort("blanks", 1, study::Sort::Reads::thickness, {1.47, 1.53});
  sort.times = 2;
  sort.redone = {"blank", "sort blanks"};
  const auto result = route.run();
  const double out = 2.0 * cdf(normal, -1.0);
  agrees(result.yield->sorts[0].out, out);
  agrees(result.yield->sorts[0].reworked, out + out * out);
  agrees(result.yield->sorts[0].scrapped, out * out * out);
}

TEST_CASE("rework of one step keeps what the steps before it made") {
  // Copper comes off and on again until it is thick enough; blanks stay what they are.
  Route route;
  route.vary(route.blank, 0.01e-3);
  route.vary(route.copper, 2 * um);
  auto& sort = route.sort("copper", 2, study::Sort::Reads::layer, {20.0, 1e3});
  sort.times = 9;
  sort.redone = {"bath copper", "sort copper"};
  sort.stripped = {"copper"};
  const study::Study study(route.model);
  study::Pipeline sorted(study.prepared(), block_lanes), plain(study.prepared(), block_lanes);
  sorted.draw_and_read({.seed = 3}, 0, false);
  plain.draw({.seed = 3}, 0);
  plain.assemble_and_read(false);
  std::size_t changed = 0;
  for (std::size_t lane = 0; lane < block_lanes; ++lane) {
    CHECK(sorted.inputs()[index(route.blank)][lane] == plain.inputs()[index(route.blank)][lane]);
    const double copper = sorted.inputs()[index(route.copper)][lane];
    changed += copper != plain.inputs()[index(route.copper)][lane] ? 1U : 0U;
    CHECK((sorted.sorter()->removed()[lane] != 0 || copper >= 20 * um));
  }
  CHECK(changed > 200);  // a half of 512: sd 11
  CHECK(changed < 312);
}

TEST_CASE("a load is kept or not by the mean of its test pieces, whole") {
  Route route;
  route.bare();
  route.vary(route.blank, 0.03e-3, 3);
  route.vary(route.blank, 0.02e-3);
  auto& sort = route.sort("loads", 1, study::Sort::Reads::thickness, {1.46, 1.54});
  sort.load = 3;
  sort.test_pieces = 4;
  route.vary(sort.repeatability, 0.02e-3, study::reading_level);
  const auto result = route.run();
  const double sd = std::sqrt(0.03 * 0.03 + (0.02 * 0.02 + 0.02 * 0.02) / 4.0);
  agrees(result.yield->sorts[0].scrapped, 2.0 * cdf(normal, -0.04 / sd));
  // In the order of production a load of 4096 pieces goes or stays as one.
  const study::Study study(route.model);
  study::Pipeline pipeline(study.prepared(), block_lanes);
  std::size_t gone = 0;
  for (std::uint64_t load = 0; load < 64; ++load) {
    std::uint8_t fate = 2;
    for (const std::uint64_t first : {std::uint64_t{0}, std::uint64_t{2048}}) {
      pipeline.draw_and_read({.seed = 1, .design = study::Design::nested}, load * 4096 + first, false);
      for (const std::uint8_t removed : pipeline.sorter()->removed()) {
        if (fate == 2) fate = removed;
        REQUIRE(removed == fate);
      }
    }
    gone += fate;
  }
  CHECK(gone > 1);  // 0.224 of 64 is 14.3, sd 3.3
  CHECK(gone < 28);
  // Lots tell of the pieces that are left.
  route.model.windows = {{"counting", "", {route.window(1, 1.45, 1.55)}}};
  const study::Study windowed(route.model);
  auto lots = study::nominal_reading(windowed);
  study::LotOptions options;
  options.lots = 20;
  options.component_rows = 16;
  study::add_lots(windowed.prepared(), options, lots);
  CHECK(lots.lots->windows[0].mean_rejected.value < 0.13);  // 0.166 without the sort
}

TEST_CASE("test pieces do not ask what later steps will be") {
  Route route;
  route.vary(route.blank, 0.02e-3);
  route.vary(route.blank, 0.02e-3, 3);
  route.vary(route.copper, 2 * um);
  route.vary(route.nickel, 0.5 * um);
  route.vary(route.collar, 0.01e-3);
  // Drawn jointly with a later one, in the joint way.
  route.model.correlations.push_back({route.copper, route.nickel, 0.7, "together"});
  auto& sort = route.sort("copper", 2, study::Sort::Reads::layer, {19.0, 21.0});
  sort.load = 3;
  sort.test_pieces = 5;
  sort.times = 2;
  sort.redone = {"sort copper"};
  route.vary(sort.repeatability, 0.5 * um, study::reading_level);
  const auto all = route.run(20000);
  route.model.sorts.back().later = {"bath nickel", "burnish", "strike"};
  const auto before = route.run(20000);
  CHECK(before.yield == all.yield);
  CHECK(before.channels[2].reading == all.channels[2].reading);
  // What it does ask counts.
  route.model.sorts.back().later.push_back("bath copper");
  CHECK(!(route.run(20000).yield == all.yield));
}

TEST_CASE("sorting by a perfect gauge never widens the sorted quantity") {
  // True of every density without gaps or second hills (log-concave), as these are.
  const sampling::Shape shapes[] = {sampling::Normal{0.01e-3}, sampling::Uniform{-0.03e-3, 0.02e-3},
                                    sampling::Triangular{-0.03e-3, 0.01e-3, 0.02e-3},
                                    sampling::TwoPieceNormal{0.005e-3, 0.02e-3}};
  for (const auto& shape : shapes) {
    Route route;
    route.bare();
    route.input(route.blank).components = {{shape, false, study::piece_level}};
    const double all = route.run(16384).channels[1].reading.sd.value;
    route.sort("blanks", 1, study::Sort::Reads::thickness, {});
    double before = all * (1.0 + 1e-9);
    for (const double width : {0.05, 0.02, 0.01, 0.004}) {
      for (const double centre : {1.498, 1.503}) {
        route.model.sorts[0].limits = {centre - width, centre + width};
        const double sd = route.run(16384).channels[1].reading.sd.value;
        CHECK(sd <= all * (1.0 + 1e-9));
        if (centre == 1.503) continue;
        CHECK(sd <= before);
        before = sd;
      }
    }
  }
}

TEST_CASE("volume and mass go through a sorted route unchanged, and all metal is accounted for") {
  Route route;
  route.vary(route.blank, 0.01e-3);
  route.vary(route.copper, 2 * um);
  route.vary(route.nickel, 0.5 * um);
  route.vary(route.burnished, 0.1 * um);
  auto& copper = route.sort("copper", 2, study::Sort::Reads::layer, {18.0, 23.0});
  copper.times = 1;
  copper.redone = {"bath copper", "sort copper"};
  copper.stripped = {"copper"};
  route.sort("weighing", 4, study::Sort::Reads::mass, {4.64, 4.72});
  const study::Study study(route.model);
  const auto& prepared = study.prepared();
  study::Pipeline pipeline(prepared, block_lanes);
  pipeline.draw_and_read({.seed = 5}, 0, false);
  study::SortTally tally;
  pipeline.sorter()->tell(block_lanes, tally);
  REQUIRE(tally.sorts[0].reworked > 20);
  REQUIRE(tally.sorts[1].scrapped > 20);

  const auto& steps = std::get<route::Route>(route.model.coin).steps;
  const auto form_until = [&](std::size_t count, const Columns& inputs) {
    const route::Route part{{steps.begin(), steps.begin() + static_cast<std::ptrdiff_t>(count)}};
    coin::CoinBlock block(route::construction_of(part), block_lanes);
    route::form(part, inputs, block);
    return block;
  };
  // What went on at the first plating, before rework.
  study::Pipeline first(prepared, block_lanes);
  first.draw({.seed = 5}, 0);
  first.assemble_and_read(false);
  const auto plated_first = form_until(2, first.inputs());
  const auto plated = form_until(2, pipeline.inputs()), unstruck = form_until(4, pipeline.inputs()),
             struck = form_until(5, pipeline.inputs());
  const auto mass = [](const coin::CoinBlock& block, std::size_t metal, std::size_t lane) {
    return block.of(metal, Of::volume)[lane] * block.of(metal, Of::density)[lane];
  };
  double copper_mass = 0.0, nickel_mass = 0.0;
  for (std::size_t lane = 0; lane < block_lanes; ++lane) {
    CHECK(struck.piece(Piece::volume)[lane] == Approx(unstruck.piece(Piece::volume)[lane]).epsilon(1e-12));
    CHECK(struck.piece(Piece::mass)[lane] == Approx(unstruck.piece(Piece::mass)[lane]).epsilon(1e-12));
    const bool again = pipeline.inputs()[index(route.copper)][lane] != first.inputs()[index(route.copper)][lane];
    copper_mass += mass(plated, 1, lane) + (again ? mass(plated_first, 1, lane) : 0.0);
    if (pipeline.sorter()->removed()[lane] != 1) nickel_mass += mass(unstruck, 2, lane);
  }
  CHECK(tally.metal[0].mean() * block_lanes == Approx(copper_mass).epsilon(1e-12));
  CHECK(tally.metal[1].mean() * block_lanes == Approx(nickel_mass).epsilon(1e-12));
}

TEST_CASE("metal is told for a million finished pieces and for a million that a class accepts") {
  // Every piece that is started is plated; within one standard deviation it is finished, within a half accepted.
  Route route;
  std::get<route::Route>(route.model.coin).steps.resize(2);
  route.vary(route.blank, 0.03e-3);
  route.sort("plated", 2, study::Sort::Reads::thickness, {1.54 - 0.03, 1.54 + 0.03});
  route.model.windows = {{"all", "", {route.window(1, 1.0, 2.0)}},
                         {"strict", "", {route.window(1, 1.54 - 0.015, 1.54 + 0.015)}},
                         {"never", "", {route.window(1, 1.7, 1.8)}}};
  // 20 um on the faces and 1.5 times as much on the rim of a cylinder of 21.7 mm by 1.5 mm.
  const double volume = std::numbers::pi / 4.0 * (21.76 * 21.76 * 1.54 - 21.7 * 21.7 * 1.5) * 1e-9;
  const double plated = 1e6 * 8930.0 * volume;
  const auto within = [](double z) { return 2.0 * cdf(normal, z) - 1.0; };
  const auto result = route.run();
  const auto& copper = result.yield->metals.at(0);
  agrees(copper.mass, plated / within(1.0));
  REQUIRE(copper.accepted.size() == 3);
  CHECK(copper.accepted[0] == copper.mass);
  agrees(copper.accepted[1], plated / within(0.5));
  CHECK(std::isnan(copper.accepted[2].value));
  CHECK_FALSE(copper.accepted[2].interval);
  // Plain draws have no replicates to take the interval from.
  study::RunOptions options;
  options.pieces = 65536;
  options.points = study::Points::plain;
  const auto plain = study::run(study::Study(route.model), options).yield->metals.at(0);
  agrees(plain.accepted[1], plated / within(0.5));
  agrees(plain.mass, plated / within(1.0));
}

TEST_CASE("what a sort leaves does not depend on threads, nor on how a block is cut") {
  Route route;
  route.vary(route.copper, 2 * um);
  route.vary(route.nickel, 0.5 * um);
  auto& sort = route.sort("copper", 2, study::Sort::Reads::layer, {18.0, 23.0});
  sort.times = 1;
  sort.redone = {"bath copper", "sort copper"};
  const auto one = route.run(40000, 1), three = route.run(40000, 3);
  CHECK(one.yield == three.yield);
  CHECK(one.channels[2].reading == three.channels[2].reading);
  CHECK(one.joint->sample.pieces == three.joint->sample.pieces);
  const study::Study study(route.model);
  study::Pipeline whole(study.prepared(), 512), part(study.prepared(), 64);
  whole.draw_and_read({.seed = 1}, 1024, false);
  part.draw_and_read({.seed = 1}, 1024 + 128, false);
  for (std::size_t lane = 0; lane < 64; ++lane) {
    CHECK(whole.sorter()->removed()[128 + lane] == part.sorter()->removed()[lane]);
    CHECK(whole.inputs()[index(route.copper)][128 + lane] == part.inputs()[index(route.copper)][lane]);
  }
}

TEST_CASE("sorts that cannot be are refused with what to do") {
  const auto refused = [](const Route& route) {
    try {
      study::Study study(route.model);
    } catch (const InvalidSpecification& invalid) {
      return invalid.problems().front().path + ": " + invalid.problems().front().what;
    }
    return std::string();
  };
  Route nothing;
  nothing.vary(nothing.blank, 0.01e-3);
  nothing.sort("blanks", 1, study::Sort::Reads::thickness, {1.7, 1.8});
  CHECK_THAT(refused(nothing), Catch::Contains("sort.blanks: this sort keeps none of 4096 pieces: they read 1.4"));
  Route early;
  auto& steps = std::get<route::Route>(early.model.coin).steps;
  steps.erase(steps.begin() + 2);
  std::get<route::Bath>(std::get<route::Route>(early.model.coin).steps[1]).stage = route::Stage::struck;
  early.sort("copper", 2, study::Sort::Reads::layer, {18.0, 23.0});
  CHECK_THAT(refused(early), Catch::Contains("'copper' is told by the finished piece"));
  Route torn;
  torn.vary(torn.copper, 1 * um);
  torn.vary(torn.nickel, 1 * um);
  torn.model.correlations = {{torn.copper, torn.nickel, 0.5, "correlations.1"}};
  auto& sort = torn.sort("copper", 2, study::Sort::Reads::layer, {18.0, 23.0});
  sort.times = 1;
  sort.redone = {"bath copper", "sort copper"};
  CHECK_THAT(refused(torn), Catch::Contains("rework would draw one of two quantities anew"));
}
