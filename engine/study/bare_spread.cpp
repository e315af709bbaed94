#include "engine/study/bare_spread.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <vector>

#include "engine/statistics/correlation.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;

Figure with(double value, const statistics::Interval& interval) {
  return {value, Interval{interval.lower, interval.upper}, {}};
}

Figure mean_of(const statistics::Moments& moments) {
  return with(moments.mean(), statistics::mean_interval(moments, confidence));
}

Figure sd_of(const statistics::Moments& moments) {
  return with(moments.sd(), statistics::sd_interval(moments, confidence));
}

/// Solved lanes of one row of a block.
class Values {
 public:
  std::span<double> column() { return values_; }
  std::span<const double> solved(std::span<const std::uint8_t> unsolved) {
    std::size_t kept = 0;
    for (std::size_t lane = 0; lane < values_.size(); ++lane) {
      if (unsolved[lane] == 0) values_[kept++] = values_[lane];
    }
    return std::span(values_).first(kept);
  }

 private:
  std::array<double, block_lanes> values_{};
};

struct PlaneTally {
  statistics::Moments resistance, reactance;
  statistics::PairMoments pair;
};

PlaneSpread spread_of(const PlaneTally& tally) {
  PlaneSpread spread{mean_of(tally.resistance),
                     mean_of(tally.reactance),
                     sd_of(tally.resistance),
                     sd_of(tally.reactance),
                     {tally.pair.correlation(), {}, {}}};
  if (tally.pair.count() > 3 && !std::isnan(spread.correlation.value)) {
    spread.correlation = with(spread.correlation.value, statistics::correlation_interval(
                                                            spread.correlation.value, tally.pair.count(), confidence));
  }
  return spread;
}

}  // namespace

void add_bare_spread(const Study::Prepared& study, std::uint64_t seed, Result& result) {
  auto& impedances = result.nominal.impedances;
  auto& decays = result.nominal.decays;
  if (impedances.empty() && decays.empty()) return;
  DrawSource source;
  source.seed = seed;
  Pipeline pipeline(study, block_lanes);
  std::vector<PlaneTally> planes(impedances.size());
  std::vector<statistics::Moments> voltages(decays.size());
  Values first, second;
  for (std::uint64_t block = 0; block < bare_pieces; block += block_lanes) {
    pipeline.draw_and_read(source, block, false);
    const auto& unsolved = pipeline.reading().unsolved;
    for (std::size_t row = 0; row < planes.size(); ++row) {
      study.sensor.last_impedance(pipeline.workspace(), row, first.column(), second.column());
      const auto resistance = first.solved(unsolved), reactance = second.solved(unsolved);
      planes[row].resistance.add(resistance);
      planes[row].reactance.add(reactance);
      planes[row].pair.add(resistance, reactance);
    }
    for (std::size_t row = 0; row < voltages.size(); ++row) {
      study.sensor.last_voltage(pipeline.workspace(), row, first.column());
      voltages[row].add(first.solved(unsolved));
    }
  }
  for (std::size_t row = 0; row < planes.size(); ++row) {
    if (planes[row].resistance.count() > 1) impedances[row].spread = spread_of(planes[row]);
  }
  for (std::size_t row = 0; row < voltages.size(); ++row) {
    if (voltages[row].count() < 2) continue;
    decays[row].mean = mean_of(voltages[row]);
    decays[row].sd = sd_of(voltages[row]);
  }
}

}  // namespace mintspread::study
