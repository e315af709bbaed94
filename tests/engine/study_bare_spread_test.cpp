#include <catch2/catch.hpp>

#include "engine/study/bare_spread.hpp"
#include "engine/study/study.hpp"
#include "tools/bench/reference_job.hpp"

using namespace mintspread;

namespace {

study::Result run(study::ProductionModel model) {
  study::RunOptions options;
  options.pieces = study::bare_pieces;
  options.points = study::Points::plain;
  options.seed = 3;
  options.threads = 2;
  return study::run(study::Study(std::move(model)), options);
}

/// Channels in ohm and volt without noise and steps read the impedances and voltages themselves, of the same pieces.
void check(const study::Figure& bare, const study::Figure& read) {
  CHECK(bare.value == Approx(read.value).epsilon(1e-9));
  REQUIRE(bare.interval);
  CHECK(bare.interval->lower == Approx(read.interval->lower).epsilon(1e-9));
  CHECK(bare.interval->upper == Approx(read.interval->upper).epsilon(1e-9));
}

}  // namespace

TEST_CASE("impedances spread as channels that read them do") {
  const auto result = run(bench::ReferenceJob::model());
  REQUIRE(result.nominal.impedances.size() == bench::ReferenceJob::frequencies.size());
  for (std::size_t row = 0; row < result.nominal.impedances.size(); ++row) {
    const auto& spread = result.nominal.impedances[row].spread;
    REQUIRE(spread);
    const auto &r = result.channels[2 * row].reading, &x = result.channels[2 * row + 1].reading;
    check(spread->resistance, r.mean);
    check(spread->reactance, x.mean);
    check(spread->sd_resistance, r.sd);
    check(spread->sd_reactance, x.sd);
    for (const auto& pair : result.joint->correlations) {
      if (pair.first == 2 * row && pair.second == 2 * row + 1)
        CHECK(spread->correlation.value == Approx(pair.figure.value).epsilon(1e-9));
    }
  }
}

TEST_CASE("decay voltages spread as channels that read them do") {
  const auto result = run(bench::ReferenceJob::with_gates());
  REQUIRE(result.nominal.decays.size() == 6);
  for (std::size_t row = 0; row < 6; ++row) {
    REQUIRE(result.nominal.decays[row].mean);
    check(*result.nominal.decays[row].mean, result.channels[row].reading.mean);
    check(*result.nominal.decays[row].sd, result.channels[row].reading.sd);
  }
}

TEST_CASE("a nominal reading has no spread") {
  const auto result = study::nominal_reading(study::Study(bench::ReferenceJob::model()));
  for (const auto& row : result.nominal.impedances) CHECK_FALSE(row.spread);
}
