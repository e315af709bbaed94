#pragma once

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <functional>
#include <string>
#include <vector>

#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"
#include "engine/study/figures.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/result.hpp"
#include "engine/study/tally.hpp"

namespace mintspread::study {

/// What a job has tallied, and the figures that are asked of it, by the methods that add_figures() states.
class JobFigures {
 public:
  JobFigures(const Job& job, Intervals intervals)
      : all_(job.total()), replicates_(&job.tallies), wanted_(intervals == Intervals::sampling_error) {}

  const Tally& all() const { return all_; }

  /// Fraction of the solved pieces; `count` finds them in a tally.
  Figure fraction(const std::function<std::uint64_t(const Tally&)>& count) const {
    const std::uint64_t found = count(all_);
    const std::uint64_t solved = all_.pieces - all_.unsolved;
    if (solved == 0) return {};
    const auto of_tally = [&](const Tally& tally) {
      return static_cast<double>(count(tally)) / static_cast<double>(tally.pieces - tally.unsolved);
    };
    Figure figure{of_tally(all_), {}, {}};
    if (!wanted_) return figure;
    if (replicated(figure.value, solved)) {
      const double half = half_width(of_tally);
      const double unsolved = static_cast<double>(all_.unsolved) / static_cast<double>(all_.pieces);
      figure.interval = Interval{std::max(0.0, figure.value * (1.0 - unsolved) - half),
                                 std::min(1.0, figure.value * (1.0 - unsolved) + unsolved + half)};
    } else {
      const auto least = statistics::clopper_pearson(found, all_.pieces, confidence);
      const auto most = statistics::clopper_pearson(found + all_.unsolved, all_.pieces, confidence);
      figure.interval = Interval{least.lower, most.upper};
    }
    return figure;
  }

  /// `count` of `total`, both found in a tally.
  Figure part(const std::function<std::uint64_t(const Tally&)>& count,
              const std::function<std::uint64_t(const Tally&)>& total) const {
    const std::uint64_t found = count(all_), of = total(all_);
    if (of == 0) return {};
    const auto of_tally = [&](const Tally& tally) {
      return static_cast<double>(count(tally)) / static_cast<double>(total(tally));
    };
    Figure figure{of_tally(all_), {}, {}};
    if (!wanted_) return figure;
    if (replicated(figure.value, of)) {
      const double half = half_width(of_tally);
      figure.interval = Interval{std::max(0.0, figure.value - half), std::min(1.0, figure.value + half)};
    } else {
      figure.interval = to_interval(statistics::clopper_pearson(found, of, confidence));
    }
    return figure;
  }

  /// Metal of a bath, kg for a million of the pieces that `count` finds, whatever became of those it went on. No number
  /// where there are none.
  Figure metal(std::size_t bath, const std::function<std::uint64_t(const Tally&)>& count) const {
    const std::uint64_t found = count(all_);
    if (found == 0) return {};
    const auto of_tally = [&](const Tally& tally) {
      const SortTally& sorting = tally.sorting;
      return 1e6 * sorting.metal[bath].mean() * static_cast<double>(sorting.started) /
             static_cast<double>(count(tally));
    };
    Figure figure{of_tally(all_), {}, {}};
    if (!wanted_) return figure;
    double half = 0.0;
    const bool replicates = std::ranges::all_of(*replicates_, [&](const Tally& tally) { return count(tally) > 0; });
    if (replicates_->size() > 1 && replicates) {
      half = half_width(of_tally);
    } else {
      // Relative errors of the mean and of the fraction found, taken as independent.
      const auto mean = statistics::mean_interval(all_.sorting.metal[bath], confidence);
      const auto yield = statistics::clopper_pearson(found, all_.sorting.started, confidence);
      const double middle = static_cast<double>(found) / static_cast<double>(all_.sorting.started);
      half = figure.value * std::hypot(0.5 * (mean.upper - mean.lower) / all_.sorting.metal[bath].mean(),
                                       0.5 * (yield.upper - yield.lower) / middle);
    }
    figure.interval = about(figure.value, half);
    return figure;
  }

  /// Reworks for a piece that comes to a sort; normal theory where there are no replicates.
  Figure reworks(std::size_t sort) const {
    const SortTally::At& all = all_.sorting.sorts[sort];
    if (all.in == 0) return {};
    const auto of_tally = [sort](const Tally& tally) {
      const SortTally::At& at = tally.sorting.sorts[sort];
      return static_cast<double>(at.reworked) / static_cast<double>(at.in);
    };
    Figure figure{of_tally(all_), {}, {}};
    if (!wanted_ || all.reworked == 0) return figure;
    const auto n = static_cast<double>(all.in);
    const double variance = static_cast<double>(all.reworked_squares) / n - figure.value * figure.value;
    const double half = replicates_->size() > 1 ? half_width(of_tally) : 1.96 * std::sqrt(variance / n);
    figure.interval = Interval{std::max(0.0, figure.value - half), figure.value + half};
    return figure;
  }

  /// `of` finds the quantity in a tally. `step` is the step its values are rounded to, 0 where they are continuous:
  /// quantiles of rounded readings are such readings.
  Spread spread(const std::function<const DistributionTally&(const Tally&)>& of, double step) const {
    const DistributionTally& tally = of(all_);
    const auto& [moments, counts, without_value] = tally;
    Spread spread;
    spread.pieces = moments.count();
    if (spread.pieces == 0) return spread;
    spread.mean = {moments.mean(), {}, {}};
    spread.smallest = counts.smallest();
    spread.largest = counts.largest();
    spread.resolution = std::max(counts.resolution(), step);
    if (spread.pieces > 1) {
      spread.sd = {moments.sd(), {}, {}};
      if (wanted_ && replicates_->size() > 1) {
        spread.mean.interval = about(moments.mean(), half_width([&](const Tally& t) { return of(t).moments.mean(); }));
        spread.sd.interval = about(moments.sd(), half_width([&](const Tally& t) { return of(t).moments.sd(); }));
      } else if (wanted_) {
        spread.mean.interval = to_interval(statistics::mean_interval(moments, confidence));
        spread.sd.interval = to_interval(statistics::sd_interval(moments, confidence));
      }
    }
    const auto to_step = [&](double value) { return step > 0.0 ? step * std::nearbyint(value / step) : value; };
    const auto quantile = [&](double p) {
      const double value = counts.quantile(p);
      Figure figure{to_step(value), {}, {}};
      if (!wanted_) return figure;
      statistics::Interval found{};
      if (replicated(p, spread.pieces)) {
        const double half = half_width([&](const Tally& t) { return of(t).counts.fraction_below(value); });
        found = counts.values_between(p - half, p + half);
      } else {
        found = counts.quantile_interval(p, confidence);
      }
      figure.interval = Interval{to_step(found.lower), to_step(found.upper)};
      return figure;
    };
    spread.median = quantile(0.5);
    for (const double p : printed_quantiles) spread.quantiles.push_back({p, quantile(p)});
    const auto drawn = counts.histogram(drawn_bins, step);
    spread.histogram = {drawn.lower, drawn.upper, drawn.counts, drawn.below, drawn.above};
    return spread;
  }

  Methods methods() const {
    if (replicates_->size() < 2) {
      return {"Clopper-Pearson on independent pieces", "normal theory", "normal theory with measured kurtosis",
              "order statistics"};
    }
    const std::string replicate = "t over " + std::to_string(replicates_->size()) + " replicates";
    return {replicate + "; Clopper-Pearson below 20 pieces of the rarer kind", replicate, replicate,
            replicate + " of the fraction below; order statistics below 20 pieces beyond"};
  }

 private:
  static constexpr double confidence = 0.95;
  static constexpr std::size_t drawn_bins = 96;
  /// Pieces of the rarer kind from which on replicates tell the error of a fraction: measured coverage of the 95 %
  /// intervals stays between 94 and 97 % there, in jobs of one factor a channel and of 22.
  static constexpr double least_rarer = 20.0;

  static Interval to_interval(const statistics::Interval& interval) { return {interval.lower, interval.upper}; }
  bool replicated(double part, std::uint64_t pieces) const {
    return replicates_->size() > 1 && std::min(part, 1.0 - part) * static_cast<double>(pieces) >= least_rarer;
  }
  static Interval about(double value, double half) { return {value - half, value + half}; }
  /// Of the 95 % interval by Student's t over the replicates.
  double half_width(const std::function<double(const Tally&)>& figure) const {
    std::vector<double> values;
    for (const Tally& tally : *replicates_) values.push_back(figure(tally));
    statistics::Moments moments;
    moments.add(values);
    const auto interval = statistics::mean_interval(moments, confidence);
    return 0.5 * (interval.upper - interval.lower);
  }

  Tally all_;
  const std::vector<Tally>* replicates_;
  bool wanted_;
};

}  // namespace mintspread::study
