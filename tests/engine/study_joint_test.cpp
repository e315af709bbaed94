#include <algorithm>
#include <boost/math/quadrature/tanh_sinh.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <set>

#include "engine/base/constants.hpp"
#include "engine/study/joint_tally.hpp"
#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"

using namespace mintspread;
using support::DiscModel;

namespace {

constexpr std::uint64_t count = 200000;  // four chunks, the last one not full

/// Diameter, thickness, their difference and a channel without a value for thin pieces; one wide and one narrow class.
DiscModel model() {
  DiscModel disc;
  disc.vary(disc.diameter, 0.03e-3);
  disc.vary(disc.thickness, 0.04e-3);
  disc.add_channel("difference", signature::Value::expression, "diameter - thickness");
  disc.add_channel("gap", signature::Value::expression, "log(thickness - 1.95)");
  const study::Criterion ratio{"ratio", "windows.counting.relations.ratio", {}, "diameter / thickness", {9.36, 10.73}};
  disc.model.windows = {{"counting", "", {disc.window(0, 19.88, 20.12), ratio}},
                        {"vending", "", {disc.window(0, 19.97, 20.03), disc.window(1, 1.96, 2.04)}}};
  return disc;
}

study::Result run(std::size_t threads, study::Points points = study::Points::plain) {
  study::RunOptions options;
  options.pieces = count;
  options.threads = threads;
  options.points = points;
  return study::run(study::Study(model().model), options);
}

const study::Figure& correlation(const study::Result& result, std::size_t first, std::size_t second) {
  const auto found = std::ranges::find_if(
      result.joint->correlations, [&](const auto& pair) { return pair.first == first && pair.second == second; });
  REQUIRE(found != result.joint->correlations.end());
  return found->figure;
}

}  // namespace

TEST_CASE("channels that share a part are correlated by the share of its variance") {
  const auto result = run(2);
  // Independent normal diameter and thickness with standard deviations 3 : 4; difference has 5. Five standard errors,
  // (1 - r^2) / sqrt n.
  const auto check = [&](std::size_t first, std::size_t second, double exact) {
    const auto& figure = correlation(result, first, second);
    CAPTURE(first, second, figure.value);
    CHECK(std::abs(figure.value - exact) < 5.0 * (1.0 - exact * exact) / std::sqrt(static_cast<double>(count)));
    REQUIRE(figure.interval);
    CHECK(figure.interval->lower < figure.value);
    CHECK(figure.value < figure.interval->upper);
    CHECK(figure.interval->upper - figure.interval->lower < 0.01);
  };
  check(0, 1, 0.0);
  check(0, 2, 0.6);
  check(1, 2, -0.8);
  CHECK(result.joint->correlations.size() == 6);
  // Undefined readings are left out: the gap exists for thicknesses above 1.95 mm, 1.25 standard deviations below the
  // mean, and the moments over those are integrals. Five standard errors of a normal pair, doubled for the skew.
  REQUIRE(result.channels[3].undefined > count / 100);
  const auto over = [](const auto& of) {
    boost::math::quadrature::tanh_sinh<double> rule;
    return rule.integrate(
        [&](double z) { return z <= -1.25 ? 0.0 : of(z, std::log(0.05 + 0.04 * z)) * std::exp(-0.5 * z * z); }, -1.25,
        10.0);
  };
  const double weight = over([](double, double) { return 1.0; });
  const double z = over([](double a, double) { return a; }) / weight;
  const double g = over([](double, double b) { return b; }) / weight;
  const double zz = over([&](double a, double) { return (a - z) * (a - z); });
  const double gg = over([&](double, double b) { return (b - g) * (b - g); });
  const double zg = over([&](double a, double b) { return (a - z) * (b - g); });
  const double exact = zg / std::sqrt(zz * gg);
  CHECK(std::abs(correlation(result, 1, 3).value - exact) <
        10.0 * (1.0 - exact * exact) / std::sqrt(static_cast<double>(count)));
}

TEST_CASE("a sample holds the first pieces and the first rejects of each class, each with what rejects it") {
  const auto result = run(2);
  const auto& sample = result.joint->sample;
  REQUIRE(sample.fair == study::sampled_pieces);
  REQUIRE(sample.readings.size() == 4);
  for (std::uint64_t i = 0; i < sample.fair; ++i) CHECK(sample.pieces[i] == i);
  CHECK(std::ranges::is_sorted(sample.pieces));
  std::vector<std::set<std::uint64_t>> rejected(2);
  for (const auto& rejects : sample.rejects) {
    const auto& criterion = result.windows[rejects.set].criteria[rejects.criterion];
    for (std::uint64_t position = 0; position < sample.pieces.size(); ++position) {
      const double value = criterion.channel ? sample.readings[*criterion.channel][position]
                                             : sample.readings[0][position] / sample.readings[1][position];
      const bool inside = value >= criterion.lower && value <= criterion.upper;
      CHECK(inside == (std::ranges::count(rejects.positions, position) == 0));
    }
    rejected[rejects.set].insert(rejects.positions.begin(), rejects.positions.end());
  }
  // Every piece after the fair ones is rejected, and of each class the first ones are there.
  for (std::uint64_t position = sample.fair; position < sample.pieces.size(); ++position)
    CHECK(rejected[0].count(position) + rejected[1].count(position) > 0);
  CHECK(rejected[0].size() >= study::sampled_rejects);
  CHECK(rejected[1].size() >= study::sampled_rejects);
  CHECK(sample.pieces.size() <= study::sampled_pieces + 2 * study::sampled_rejects);
}

TEST_CASE("a sample is the same on any number of threads, and a rare class keeps rejects from later chunks") {
  const auto one = run(1);
  REQUIRE(one.joint);
  const auto text = [](const study::Sample& sample) {
    // NaN is unequal to itself; the channel that has it is left out.
    auto all = sample;
    all.readings.resize(3);
    return all;
  };
  for (const std::size_t threads : {2U, 7U}) {
    const auto other = run(threads);
    CHECK(text(other.joint->sample) == text(one.joint->sample));
    CHECK(other.joint->correlations == one.joint->correlations);
    CHECK(other.joint->lines == one.joint->lines);
  }
  const auto& counting = one.windows[0].accepted;
  CHECK((1.0 - counting.value) * 65536 < 50.0);  // so the 50 come from several chunks
  CHECK(one.joint->sample.pieces.back() > 65536);
  const auto sobol = run(2, study::Points::sobol);
  CHECK(text(sobol.joint->sample) == text(run(3, study::Points::sobol).joint->sample));
  CHECK(sobol.joint->sample.fair == study::sampled_pieces);
}

TEST_CASE("the line of a relation lies where the relation meets its limit") {
  const auto result = run(2);
  REQUIRE(result.joint->lines.size() == 2);
  for (const auto& line : result.joint->lines) {
    CHECK(line.across == 0);
    CHECK(line.up == 1);
    REQUIRE(line.x.size() == line.y.size());
    CHECK(line.x.size() > 20);
    // Linear between the nodes of the grid: the ratio bends by a thousandth of its change over a step.
    for (std::size_t i = 0; i < line.x.size(); ++i) CHECK(line.x[i] / line.y[i] == Approx(line.limit).epsilon(1e-5));
  }
}
