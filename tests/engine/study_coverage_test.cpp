#include <fmt/core.h>

#include <boost/math/distributions/normal.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <string>

#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"
#include "tools/bench/reference_job.hpp"

using namespace mintspread;

namespace {

/// How many seeds are tried, and how often their intervals have to hold the true figure.
struct Trial {
  std::uint64_t seeds;
  double least, most;
};
// Luck moves a coverage by 0.7 % (one standard error) where a figure is seen once a seed.
constexpr Trial thorough{1000, 0.93, 0.97};
// 4.9 standard errors about 95 %, beyond which luck carries once in a million.
constexpr Trial quick{100, 0.95 - 4.9 * 0.0218, 1.0};

/// Fractions of seeds whose 95 % intervals hold the true figure, per kind of figure, over all channels and window sets.
class Coverage {
 public:
  void add(const std::string& kind, const study::Figure& figure, double exact) {
    auto& [held, of] = counts_[kind];
    ++of;
    if (figure.interval->lower <= exact && exact <= figure.interval->upper) ++held;
  }
  /// `exact` holds the true value in place of every figure of `found`.
  void add(const study::Result& found, const study::Result& exact) {
    for (std::size_t c = 0; c < found.channels.size(); ++c) {
      const auto& of = found.channels[c].reading;
      const auto& is = exact.channels[c].reading;
      if (!(of.sd.value > 0.0)) continue;
      add("mean", of.mean, is.mean.value);
      add("standard deviation", of.sd, is.sd.value);
      add("median", of.median, is.median.value);
      for (std::size_t q = 0; q < of.quantiles.size(); ++q) {
        add(fmt::format("quantile {} %", 100.0 * of.quantiles[q].probability), of.quantiles[q].figure,
            is.quantiles[q].figure.value);
      }
    }
    for (std::size_t w = 0; w < found.windows.size(); ++w) {
      add("accepted", found.windows[w].accepted, exact.windows[w].accepted.value);
      for (std::size_t c = 0; c < found.windows[w].criteria.size(); ++c) {
        add("accepted by a criterion", found.windows[w].criteria[c].accepted,
            exact.windows[w].criteria[c].accepted.value);
      }
    }
  }
  void check(const std::string& design, const Trial& trial) const {
    for (const auto& [kind, count] : counts_) {
      const double part = static_cast<double>(count.first) / static_cast<double>(count.second);
      const std::string line = fmt::format("{}, {}: {:.4f} of {}", design, kind, part, count.second);
      if (std::getenv("MINTSPREAD_PRINT_COVERAGE") != nullptr) fmt::print("{}\n", line);
      INFO(line);
      CHECK(part >= trial.least);
      CHECK(part <= trial.most);
    }
  }

 private:
  std::map<std::string, std::pair<std::size_t, std::size_t>> counts_;
};

study::RunOptions options(study::Points points, std::uint64_t pieces, std::uint64_t seed) {
  study::RunOptions options;
  options.points = points;
  options.pieces = pieces;
  options.seed = seed;
  options.coin_spread = false;
  return options;
}

void measure(const study::Study& study, const study::Result& exact, std::uint64_t pieces, const Trial& trial) {
  for (const auto points : {study::Points::plain, study::Points::sobol}) {
    Coverage coverage;
    for (std::uint64_t seed = 1; seed <= trial.seeds; ++seed) {
      coverage.add(study::run(study, options(points, pieces, seed)), exact);
    }
    coverage.check(fmt::format("{} points, {} pieces", points == study::Points::plain ? "plain" : "Sobol'", pieces),
                   trial);
  }
}

}  // namespace

namespace {

void gauged_dimensions(const Trial& trial) {
  support::DiscModel disc;
  disc.vary(disc.diameter, 0.02e-3);
  disc.vary(disc.thickness, 0.03e-3);
  disc.model.windows = {{"counting", "", {disc.window(0, 19.97, 20.05), disc.window(1, 1.95, 2.04)}}};
  const study::Study study(disc.model);
  auto exact = study::run(study, options(study::Points::plain, 512, 1));
  const auto set = [](study::Spread& spread, double mean, double sd) {
    const boost::math::normal_distribution<> normal(mean, sd);
    spread.mean.value = spread.median.value = mean;
    spread.sd.value = sd;
    for (auto& entry : spread.quantiles) entry.figure.value = quantile(normal, entry.probability);
    return normal;
  };
  const auto diameter = set(exact.channels[0].reading, 20.0, 0.02);
  const auto thickness = set(exact.channels[1].reading, 2.0, 0.03);
  auto& windows = exact.windows[0];
  windows.criteria[0].accepted.value = cdf(diameter, 20.05) - cdf(diameter, 19.97);
  windows.criteria[1].accepted.value = cdf(thickness, 2.04) - cdf(thickness, 1.95);
  windows.accepted.value = windows.criteria[0].accepted.value * windows.criteria[1].accepted.value;
  measure(study, exact, 65536, trial);
}

}  // namespace

TEST_CASE("95 % intervals of gauged dimensions hold the closed form as often as they say, with both kinds of points") {
  gauged_dimensions(quick);
}

TEST_CASE("95 % intervals of gauged dimensions hold the closed form for 93 to 97 % of a thousand seeds",
          "[.][slow][coverage]") {
  gauged_dimensions(thorough);
}

TEST_CASE(
    "95 % intervals of the reference job hold the figures of 32 million pieces for 93 to 97 % of a thousand seeds",
    "[.][slow][coverage]") {
  auto model = bench::ReferenceJob::model();
  // Windows at about two standard deviations of two channels, invented.
  const auto pilot = study::run(study::Study(model), options(study::Points::sobol, 65536, 1));
  auto& windows = model.windows.emplace_back();
  windows.machine_class = "counting";
  for (const std::size_t c : {std::size_t{2}, std::size_t{7}}) {
    const auto& spread = pilot.channels[c].reading;
    windows.criteria.push_back(
        {pilot.channels[c].name,
         "windows.counting." + pilot.channels[c].name,
         c,
         "",
         {spread.mean.value - 2.2 * spread.sd.value, spread.mean.value + 1.9 * spread.sd.value}});
  }
  const study::Study study(model);
  const auto exact = study::run(study, options(study::Points::sobol, 1U << 25U, 1000));
  for (const std::uint64_t pieces : {std::uint64_t{16384}, std::uint64_t{262144}})
    measure(study, exact, pieces, thorough);
}
