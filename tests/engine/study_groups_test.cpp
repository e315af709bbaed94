#include <algorithm>
#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <set>

#include "engine/statistics/moments.hpp"
#include "engine/study/lots.hpp"
#include "engine/study/production_order.hpp"
#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"

using namespace mintspread;
using support::DiscModel;

namespace {

study::ProductionOrder order_of(const std::vector<study::Group>& groups) {
  std::vector<Problem> problems;
  study::ProductionOrder order(groups, problems);
  REQUIRE(problems.empty());
  return order;
}

std::vector<std::uint64_t> units_of(const study::ProductionOrder& order, std::size_t level, std::uint64_t first,
                                    std::size_t count, std::uint64_t plant = 0) {
  std::vector<std::uint64_t> units(count);
  order.units(1, plant, level, first, units);
  return units;
}

const std::vector<study::Group> plant{{"piece", 1, "", "", 1},           {"reading", 1, "", "", 1},
                                      {"strip lot", 6000, "", "", 1},    {"barrel", 400, "strip lot", "", 1},
                                      {"charge", 1200, "", "barrel", 3}, {"station", 400, "barrel", "", 1, 4},
                                      {"die", 2500, "", "", 1},          {"shipped lot", 1000, "", "charge", 2}};

statistics::Moments moments_of(std::span<const double> values) {
  statistics::Moments moments;
  moments.add(values);
  return moments;
}

}  // namespace

TEST_CASE("a charge mixes its barrels in equal parts, and each barrel stays one of a strip lot") {
  const auto order = order_of(plant);
  const std::size_t count = 24000;
  const auto charges = units_of(order, 4, 0, count), barrels = units_of(order, 3, 0, count),
             strips = units_of(order, 2, 0, count);
  std::map<std::uint64_t, std::map<std::uint64_t, std::size_t>> barrels_of;
  std::map<std::uint64_t, std::set<std::uint64_t>> strips_of;
  for (std::size_t p = 0; p < count; ++p) {
    ++barrels_of[charges[p]][barrels[p]];
    strips_of[barrels[p]].insert(strips[p]);
  }
  for (const auto& [charge, barrels_in] : barrels_of) {
    REQUIRE(barrels_in.size() == 3);
    for (const auto& [barrel, pieces] : barrels_in) {
      CHECK(barrel / 3 == charge);
      // 1200 pieces, each of one of three barrels: 400 with sd sqrt(1200 * 2 / 9) = 16.3.
      CHECK(std::abs(static_cast<double>(pieces) - 400.0) < 5 * 16.4);
    }
  }
  for (const auto& [barrel, strips_met] : strips_of) {
    CHECK(strips_met.size() == 1);
    CHECK(*strips_met.begin() == barrel / 15);
  }
  // Two charges run side by side in a shipped lot.
  const auto shipped = units_of(order, 7, 0, 2400);
  CHECK(std::set<std::uint64_t>(charges.begin(), charges.begin() + 2400) == std::set<std::uint64_t>{0, 1});
  CHECK(shipped.back() == 2);
  // Dies stand alone: they cross everything.
  const auto dies = units_of(order, 6, 2400, 200);
  CHECK(dies.front() == 0);
  CHECK(dies.back() == 1);
}

TEST_CASE("stations take turns and are others in another plant") {
  const auto order = order_of(plant);
  const auto stations = units_of(order, 5, 0, 24000), barrels = units_of(order, 3, 0, 24000);
  for (std::size_t p = 0; p < stations.size(); ++p) CHECK(stations[p] == barrels[p] % 4);
  for (const auto unit : units_of(order, 5, 0, 2000, 7)) CHECK(unit / 4 == 7);
}

TEST_CASE("the order of production does not depend on how it is cut") {
  const auto order = order_of(plant);
  const auto whole = units_of(order, 3, 1000, 3000);
  const auto part = units_of(order, 3, 2500, 500);
  CHECK(std::equal(part.begin(), part.end(), whole.begin() + 1500));
}

TEST_CASE("groups that form a circle are named, and so is an order that is mixed twice") {
  std::vector<Problem> problems;
  study::ProductionOrder({{"piece", 1, "", "", 1},
                          {"reading", 1, "", "", 1},
                          {"a", 10, "b", "", 1},
                          {"b", 10, "", "c", 1},
                          {"c", 10, "a", "", 1}},
                         problems);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].what == "the groups 'a', 'b', 'c', 'a' form a circle");
  problems.clear();
  study::ProductionOrder({{"piece", 1, "", "", 1},
                          {"reading", 1, "", "", 1},
                          {"barrel", 10, "", "", 1},
                          {"charge", 20, "", "barrel", 2},
                          {"shipped lot", 20, "", "barrel", 2}},
                         problems);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].what.find("is mixed by 'charge' already") != std::string::npos);
  problems.clear();
  // Neither a nor b leads back to itself, but the order of each follows the other's.
  study::ProductionOrder({{"piece", 1, "", "", 1},
                          {"reading", 1, "", "", 1},
                          {"a", 20, "", "d", 2},
                          {"b", 20, "", "c", 2},
                          {"c", 10, "a", "", 1},
                          {"d", 10, "b", "", 1}},
                         problems);
  CHECK(problems.size() == 1);
}

TEST_CASE("a drift is a saw-tooth over its campaign, and a saw-tooth is uniform") {
  DiscModel disc;
  auto& thickness = disc.input(disc.thickness).components;
  thickness.push_back({sampling::Uniform{-0.03e-3, 0.03e-3}, false, 3, study::Drift{3, 8, true}});
  auto& diameter = disc.input(disc.diameter).components;
  diameter.push_back({sampling::Uniform{0.0, 0.02e-3}, false, study::piece_level, study::Drift{2, 1, false}});
  std::vector<Problem> problems;
  const study::DrawPlan draws(disc.model, problems);
  REQUIRE(problems.empty());
  // Flat: (b - a)^2 / 12.
  CHECK(draws.spread_of(disc.thickness) == Approx(0.06e-3 / std::sqrt(12.0)).epsilon(1e-6));
  const std::size_t count = 65536;  // a lot of 16 loads: two campaigns
  Columns deviations(draws.coordinates(), count);
  const std::size_t load = draws.factors()[0].input == disc.thickness ? 0 : 1, wear = 1 - load;
  std::vector<double> starts;
  for (std::uint64_t campaign = 0; campaign < 200; ++campaign) {
    Columns few(draws.coordinates(), 8);
    draws.deviations({.seed = 1, .design = study::Design::nested}, campaign * 8 * 4096, few);
    starts.push_back(few[load][0]);
  }
  draws.deviations({.seed = 1, .design = study::Design::nested}, 0, deviations);
  const auto falls = deviations[load];
  for (std::size_t unit = 1; unit < 8; ++unit) {
    // 0.06 mm in 8 even steps downwards; the pieces of a load are alike.
    CHECK(falls[unit * 4096] - falls[unit * 4096 - 1] == Approx(-0.0075e-3).epsilon(1e-9));
    CHECK(falls[unit * 4096] == falls[unit * 4096 + 4095]);
  }
  CHECK(falls[8 * 4096] > falls[8 * 4096 - 1]);  // begins anew
  // Where campaigns begin is uniform over a step: so is, with the even steps, the whole.
  const auto start = moments_of(starts);
  CHECK(start.mean() == Approx(0.03e-3 - 0.00375e-3).margin(4 * 0.0075e-3 / std::sqrt(12.0 * 200)));
  CHECK(start.sd() == Approx(0.0075e-3 / std::sqrt(12.0)).epsilon(0.15));
  // Over one die's life, piece by piece: a uniform to a part in its number of pieces.
  const auto worn = moments_of(deviations[wear]);
  CHECK(worn.mean() == Approx(0.01e-3).epsilon(2.0 / 65536));
  CHECK(worn.sd() == Approx(0.02e-3 / std::sqrt(12.0)).epsilon(2.0 / 65536));
  CHECK(std::ranges::is_sorted(deviations[wear]));
}

TEST_CASE("quantities that drift over one campaign go together, in both designs") {
  DiscModel disc;
  disc.input(disc.thickness)
      .components.push_back(
          {sampling::Uniform{-0.03e-3, 0.03e-3}, false, study::piece_level, study::Drift{2, 1, true}});
  disc.input(disc.diameter)
      .components.push_back(
          {sampling::Uniform{-0.02e-3, 0.02e-3}, false, study::piece_level, study::Drift{2, 1, false}});
  std::vector<Problem> problems;
  const study::DrawPlan draws(disc.model, problems);
  for (const auto design : {study::Design::flat, study::Design::nested}) {
    Columns deviations(draws.coordinates(), 256);
    draws.deviations({.seed = 1, .design = design}, 512, deviations);
    for (std::size_t lane = 0; lane < 256; ++lane)
      CHECK(deviations[0][lane] / 0.03e-3 == Approx(-deviations[1][lane] / 0.02e-3).margin(1e-9));
  }
  CHECK(draws.correlated_blocks().size() == 1);
  disc.model.correlations = {{disc.thickness, disc.diameter, 0.5, "correlations.1"}};
  CHECK_THROWS_AS(study::Study(disc.model), InvalidSpecification);
}

TEST_CASE("crossed groups get back the components of a linear reading, and their product shows as acting together") {
  DiscModel disc;
  disc.model.groups.push_back({"die", 3000, "", "", 1});
  disc.vary(disc.thickness, 0.05e-3, 2);
  disc.vary(disc.thickness, 0.04e-3, 3);
  disc.vary(disc.thickness, 0.03e-3, 4);
  disc.vary(disc.thickness, 0.02e-3);
  disc.vary(disc.diameter, 4e-3, 4);
  disc.add_channel("product", signature::Value::expression, "(diameter - 20) * (thickness - 2)");
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  study::LotOptions options;
  options.lots = 2;
  options.threads = 2;
  study::add_lots(study.prepared(), options, result);
  const auto& linear = result.lots->channels[1].components;
  const std::vector<std::pair<std::string, double>> exact{
      {"lot", 0.05}, {"load", 0.04}, {"die", 0.03}, {"piece", 0.02}};
  REQUIRE(linear.size() == 5);
  for (std::size_t k = 0; k < exact.size(); ++k) {
    CHECK(linear[k].name == exact[k].first);
    // A half-width is two standard errors: four of them.
    const double half = 0.5 * (linear[k].sd.interval->upper - linear[k].sd.interval->lower);
    CHECK(std::abs(linear[k].sd.value - exact[k].second) < 2.0 * half);
    CHECK(half < 0.1 * exact[k].second);
  }
  CHECK(linear[4].name == "groups acting together");
  CHECK(std::abs(linear[4].sd.value) < 0.015);
  // X Y with X = 4 die, Y = 0.05 lot + 0.04 load + 0.03 die' + 0.02 piece, all means 0: what the lot, the load and the
  // pieces do, they do only together with the die, 4 sqrt(0.05^2 + 0.04^2 + 0.02^2); the die alone does 4 * 0.03.
  const auto& product = result.lots->channels[2].components;
  CHECK(product.front().name == "die");
  CHECK(product.front().sd.value == Approx(0.12).epsilon(0.1));
  CHECK(product.back().sd.value == Approx(4 * std::sqrt(0.0025 + 0.0016 + 0.0004)).epsilon(0.05));
}

TEST_CASE("the chance that a lot exceeds a rejected share is that of its effect") {
  // Lots vary with sd 0.05 mm, pieces in them with 0.03 mm: a lot of effect L rejects Phi((L - c) / 0.03), more than r
  // when L > c + 0.03 z(r). Normal probabilities by Boost.Math.
  DiscModel disc;
  disc.vary(disc.thickness, 0.05e-3, 2);
  disc.vary(disc.thickness, 0.03e-3);
  disc.model.windows = {{"counting", "", {disc.window(1, 0.0, 2.08)}}};
  const study::Study study(disc.model);
  auto result = study::nominal_reading(study);
  study::LotOptions options;
  options.lots = 400;
  options.threads = 2;
  options.component_rows = 16;
  options.rates = {0.003, 0.2, 0.05};
  study::add_lots(study.prepared(), options, result);
  const boost::math::normal normal;
  const auto& chances = result.lots->windows[0].chances;
  REQUIRE(chances.size() == 7);  // the usual five, of which one is asked for again
  CHECK(std::ranges::is_sorted(chances, {}, [](const auto& one) { return one.rate; }));
  CHECK(chances.back().rate == 0.2);
  for (const auto& chance : result.lots->windows[0].chances) {
    const double exact = 1.0 - cdf(normal, (0.08 + 0.03 * quantile(normal, chance.rate)) / 0.05);
    INFO(chance.rate << ": exact " << exact << ", found " << chance.chance.value);
    CHECK(chance.chance.interval->lower < exact + 0.015);
    CHECK(chance.chance.interval->upper > exact - 0.015);
  }
}

TEST_CASE("lots that see a whole campaign all reject alike, lots that see half of it do not") {
  // A drift over one lot through +-0.05 mm, window up to +0.04 mm: a tenth of every lot is beyond.
  DiscModel disc;
  auto& components = disc.input(disc.thickness).components;
  components.push_back({sampling::Uniform{-0.05e-3, 0.05e-3}, false, study::piece_level, study::Drift{2, 1, false}});
  disc.model.windows = {{"counting", "", {disc.window(1, 0.0, 2.04)}}};
  study::LotOptions options;
  options.lots = 40;
  options.loads_a_lot = 16;  // all of them
  options.component_rows = 16;
  const auto rejected = [&] {
    const study::Study study(disc.model);
    auto result = study::nominal_reading(study);
    study::add_lots(study.prepared(), options, result);
    return result.lots->windows[0];
  };
  const auto whole = rejected();
  CHECK(whole.rejected[0].figure.value == Approx(0.1).margin(0.02));
  CHECK(whole.rejected[2].figure.value == Approx(0.1).margin(0.02));
  components[0].drift->units = 2;
  const auto half = rejected();
  CHECK(half.mean_rejected.interval->lower < 0.1);
  CHECK(half.mean_rejected.interval->upper > 0.1);
  CHECK(half.rejected[0].figure.value == 0.0);
  CHECK(half.rejected[2].figure.value == Approx(0.2).margin(0.02));
}
