#include "engine/study/compare.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"
#include "engine/study/acceptance.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/pipeline.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;

struct Pairing {
  std::size_t first, second;
};

/// Positions of the names that both have; the others are told apart.
std::vector<Pairing> pair_up(const std::vector<std::string>& first, const std::vector<std::string>& second,
                             Comparison& comparison) {
  std::vector<Pairing> pairs;
  for (std::size_t i = 0; i < first.size(); ++i) {
    const auto found = std::ranges::find(second, first[i]);
    if (found == second.end()) {
      comparison.only_first.push_back(first[i]);
    } else {
      pairs.push_back({i, static_cast<std::size_t>(found - second.begin())});
    }
  }
  for (const auto& name : second) {
    if (std::ranges::find(first, name) == first.end()) comparison.only_second.push_back(name);
  }
  return pairs;
}

std::vector<std::string> channel_keys(const signature::Sensor& sensor) {
  std::vector<std::string> keys;
  for (const auto& channel : sensor.channels) keys.push_back(channel.name + " [" + channel.unit.name + "]");
  return keys;
}

std::vector<std::string> class_names(const ProductionModel& model) {
  std::vector<std::string> names;
  for (const auto& set : model.windows) names.push_back(set.machine_class);
  return names;
}

/// What a batch of pieces shows: readings that both have, and the pieces that only one accepts.
struct Batch {
  std::vector<std::array<statistics::Moments, 2>> channels;
  struct Accepted {
    std::uint64_t first = 0, second = 0, only_first = 0, only_second = 0;
  };
  std::vector<Accepted> windows;
  std::uint64_t kept_first = 0, kept_second = 0;  ///< pieces that no sort took out
};

void add_pieces(std::span<const double> first, std::span<const double> second, std::size_t pieces,
                std::array<statistics::Moments, 2>& moments) {
  std::array<double, block_lanes> a{}, b{};
  std::size_t kept = 0;
  for (std::size_t lane = 0; lane < pieces; ++lane) {
    if (std::isnan(first[lane]) || std::isnan(second[lane])) continue;
    a[kept] = first[lane];
    b[kept++] = second[lane];
  }
  moments[0].add(std::span(a).first(kept));
  moments[1].add(std::span(b).first(kept));
}

/// Student's t over the batches' values.
Figure difference_of(const std::vector<double>& values, double value) {
  statistics::Moments moments;
  moments.add(values);
  if (values.size() < 2) return {value, {}, {}};
  const auto interval = statistics::mean_interval(moments, confidence);
  const double half = 0.5 * (interval.upper - interval.lower);
  return {value, Interval{value - half, value + half}, {}};
}

ChannelChange change_of(const signature::Channel& channel, const std::vector<Batch>& done, std::size_t position) {
  std::array<statistics::Moments, 2> all;
  std::vector<double> means, sds;
  for (const Batch& batch : done) {
    const auto& [a, b] = batch.channels[position];
    all[0].merge(a);
    all[1].merge(b);
    if (a.count() < 2) continue;
    means.push_back(b.mean() - a.mean());
    sds.push_back(b.sd() - a.sd());
  }
  return {channel.name,
          channel.unit.name,
          {all[0].mean(), all[1].mean(), difference_of(means, all[1].mean() - all[0].mean())},
          {all[0].sd(), all[1].sd(), difference_of(sds, all[1].sd() - all[0].sd())}};
}

std::uint64_t kept(const Pipeline& pipeline) {
  const auto& unsolved = pipeline.reading().unsolved;
  return unsolved.size() - static_cast<std::uint64_t>(std::ranges::count(unsolved, signature::Readings::no_piece));
}

WindowChange change_of(const std::string& machine_class, const std::vector<Batch>& done, std::size_t position,
                       std::uint64_t pieces) {
  Batch::Accepted all;
  std::uint64_t kept_first = 0, kept_second = 0;
  for (const Batch& batch : done) {
    kept_first += batch.kept_first;
    kept_second += batch.kept_second;
    all.first += batch.windows[position].first;
    all.second += batch.windows[position].second;
    all.only_first += batch.windows[position].only_first;
    all.only_second += batch.windows[position].only_second;
  }
  const auto part = [](std::uint64_t accepted, std::uint64_t of) {
    return static_cast<double>(accepted) / static_cast<double>(of);
  };
  const double first = part(all.first, kept_first), second = part(all.second, kept_second);
  if (done.size() > 1 && std::max(all.only_first, all.only_second) >= 20) {
    std::vector<double> differences;
    for (const Batch& batch : done) {
      const auto& counts = batch.windows[position];
      differences.push_back(part(counts.second, batch.kept_second) - part(counts.first, batch.kept_first));
    }
    return {machine_class, {first, second, difference_of(differences, second - first)}};
  }
  const double each = 0.5 * (1.0 + confidence);
  const auto gained = statistics::clopper_pearson(all.only_second, pieces, each);
  const auto lost = statistics::clopper_pearson(all.only_first, pieces, each);
  return {machine_class,
          {first, second, {second - first, Interval{gained.lower - lost.upper, gained.upper - lost.lower}, {}}}};
}

}  // namespace

Comparison compare(const Study& first, const Study& second, const RunOptions& options) {
  const Study::Prepared& a = first.prepared();
  const Study::Prepared& b = second.prepared();
  Comparison comparison;
  comparison.first = a.model.name;
  comparison.second = b.model.name;
  comparison.seed = options.seed;
  comparison.method =
      "common random numbers; t over replicates; accepted: Clopper-Pearson where fewer than 20 pieces change";
  const auto channels = pair_up(channel_keys(a.model.sensor), channel_keys(b.model.sensor), comparison);
  const auto windows = pair_up(class_names(a.model), class_names(b.model), comparison);

  // Plain draws are told apart in batches of the same sizes.
  PointSets sets = point_sets(Points::sobol, std::max<std::uint64_t>(options.pieces, 32 * block_lanes));
  sets.points = options.points;
  comparison.pieces = sets.pieces();
  std::vector<Batch> done(sets.replicates);
  for_each_index(done.size(), options.threads, [&](std::size_t i) {
    if (options.stop.stop_requested()) return;
    Batch& batch = done[i];
    batch.channels.resize(channels.size());
    batch.windows.resize(windows.size());
    Pipeline from_a(a, block_lanes), from_b(b, block_lanes);
    for (std::uint64_t piece = i * sets.each; piece < (i + 1) * sets.each; piece += block_lanes) {
      from_a.draw_and_read(source_of(a, options.seed, sets, i), piece, false);
      from_b.draw_and_read(source_of(b, options.seed, sets, i), piece, false);
      batch.kept_first += kept(from_a);
      batch.kept_second += kept(from_b);
      for (std::size_t c = 0; c < channels.size(); ++c) {
        add_pieces(from_a.reading().values[channels[c].first], from_b.reading().values[channels[c].second], block_lanes,
                   batch.channels[c]);
      }
      for (std::size_t w = 0; w < windows.size(); ++w) {
        const auto in_a = accepted_lanes(a, windows[w].first, from_a);
        const auto in_b = accepted_lanes(b, windows[w].second, from_b);
        auto& counts = batch.windows[w];
        for (std::size_t lane = 0; lane < block_lanes; ++lane) {
          counts.first += in_a[lane] ? 1U : 0U;
          counts.second += in_b[lane] ? 1U : 0U;
          counts.only_first += in_a[lane] && !in_b[lane] ? 1U : 0U;
          counts.only_second += in_b[lane] && !in_a[lane] ? 1U : 0U;
        }
      }
    }
  });
  if (options.stop.stop_requested()) throw Interrupted();
  for (std::size_t c = 0; c < channels.size(); ++c) {
    comparison.channels.push_back(change_of(a.model.sensor.channels[channels[c].first], done, c));
  }
  for (std::size_t w = 0; w < windows.size(); ++w) {
    comparison.windows.push_back(
        change_of(a.model.windows[windows[w].first].machine_class, done, w, comparison.pieces));
  }
  return comparison;
}

}  // namespace mintspread::study
