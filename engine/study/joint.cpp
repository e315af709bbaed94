#include "engine/study/joint.hpp"

#include <algorithm>
#include <cmath>
#include <tuple>
#include <utility>

#include "engine/base/columns.hpp"
#include "engine/statistics/correlation.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;
constexpr std::size_t line_steps = 48;
constexpr double drawn_deviations = 6.0;

JointResult& joint_of(Result& result) { return result.joint ? *result.joint : result.joint.emplace(); }

Sample sample_of(const Result& result, const JointTally& tally) {
  Sample sample;
  sample.readings.resize(result.channels.size());
  for (const SampledPiece& piece : tally.sample()) {
    const std::uint64_t position = sample.pieces.size();
    if (piece.index < sampled_pieces) ++sample.fair;
    sample.pieces.push_back(piece.index);
    for (std::size_t c = 0; c < piece.readings.size(); ++c) sample.readings[c].push_back(piece.readings[c]);
    for (const Failure& failure : piece.failures) {
      const auto same = [&](const SampleRejects& rejects) {
        return rejects.set == failure.window && rejects.criterion == failure.criterion;
      };
      auto found = std::ranges::find_if(sample.rejects, same);
      if (found == sample.rejects.end()) found = sample.rejects.insert(found, {failure.window, failure.criterion, {}});
      found->positions.push_back(position);
    }
  }
  std::ranges::sort(sample.rejects, [](const SampleRejects& a, const SampleRejects& b) {
    return std::pair(a.set, a.criterion) < std::pair(b.set, b.criterion);
  });
  return sample;
}

/// A side of the grid: values of one channel.
struct Side {
  std::size_t channel;
  double from, step;
  double at(std::size_t i) const { return from + step * static_cast<double>(i); }
};

Side side_of(const Result& result, std::size_t channel) {
  const Spread& spread = result.channels[channel].reading;
  const double reach = drawn_deviations * spread.sd.value;
  return {channel, spread.mean.value - reach, 2.0 * reach / static_cast<double>(line_steps)};
}

/// The first place on each grid line of `along` where the expression crosses the limit, going along `across`.
std::pair<std::vector<double>, std::vector<double>> crossings(signature::Expression& expression, Columns& values,
                                                              const Side& along, const Side& across, double limit) {
  constexpr std::size_t nodes = line_steps + 1;
  std::pair<std::vector<double>, std::vector<double>> found;
  std::vector<double> at(values.lanes());
  for (std::size_t i = 0; i < nodes; ++i) {
    for (std::size_t j = 0; j < values.lanes(); ++j) {
      values[along.channel][j] = along.at(i);
      values[across.channel][j] = across.at(j);
    }
    expression.evaluate(values, at);
    for (std::size_t j = 0; j + 1 < nodes; ++j) {
      const double below = at[j] - limit, above = at[j + 1] - limit;
      if (!(below * above <= 0.0) || below == above) continue;
      found.first.push_back(along.at(i));
      found.second.push_back(across.at(j) + across.step * below / (below - above));
      break;
    }
  }
  return found;
}

void add_lines(const Study::Prepared& study, std::size_t set, std::size_t criterion, Result& result) {
  const Criterion& of = study.model.windows[set].criteria[criterion];
  signature::Expression expression = study.relations[study.relation_of[set][criterion]];
  if (expression.used().size() != 2) return;
  const Side x = side_of(result, expression.used()[0]), y = side_of(result, expression.used()[1]);
  if (!(x.step > 0.0 && y.step > 0.0)) return;
  Columns values(result.channels.size(), (line_steps + 1 + 7) / 8 * 8);
  for (const double limit : {of.limits.lower, of.limits.upper}) {
    if (!std::isfinite(limit)) continue;
    RelationLine line{set, criterion, x.channel, y.channel, limit, {}, {}};
    // A steep line crosses few of the upright grid lines, a flat one few of the level ones.
    auto upright = crossings(expression, values, x, y, limit), level = crossings(expression, values, y, x, limit);
    if (upright.first.size() >= level.first.size()) {
      std::tie(line.x, line.y) = std::move(upright);
    } else {
      std::tie(line.y, line.x) = std::move(level);
    }
    if (line.x.size() > 1) result.joint->lines.push_back(std::move(line));
  }
}

using PairOf = std::function<const statistics::PairMoments&(const Tally&)>;

/// Undefined (NaN) when the correlation of a replicate is.
statistics::Interval over_replicates(const Job& job, const PairOf& of, double value) {
  std::vector<double> values;
  for (const Tally& tally : job.tallies) values.push_back(of(tally).correlation());
  statistics::Moments moments;
  moments.add(values);
  const auto about_mean = statistics::mean_interval(moments, confidence);
  const double half = 0.5 * (about_mean.upper - about_mean.lower);
  return {std::max(value - half, -1.0), std::min(value + half, 1.0)};
}

}  // namespace

Figure correlation_figure(const Job& job, const PairOf& of, Intervals intervals) {
  statistics::PairMoments pair;
  for (const Tally& tally : job.tallies) pair.merge(of(tally));
  Figure figure{pair.correlation(), {}, {}};
  if (intervals == Intervals::none || pair.count() < 4 || std::isnan(figure.value)) return figure;
  const auto interval = job.tallies.size() > 1
                            ? over_replicates(job, of, figure.value)
                            : statistics::correlation_interval(figure.value, pair.count(), confidence);
  if (interval.lower <= interval.upper) figure.interval = Interval{interval.lower, interval.upper};
  return figure;
}

std::string correlation_method(const Job& job) {
  return job.tallies.size() > 1 ? "t over " + std::to_string(job.tallies.size()) + " replicates"
                                : "Fisher's z, normal theory";
}

void add_correlations(const Job& job, Intervals intervals, Result& result) {
  JointResult& joint = joint_of(result);
  joint.method = correlation_method(job);
  for (std::size_t first = 0; first < result.channels.size(); ++first) {
    for (std::size_t second = first + 1; second < result.channels.size(); ++second) {
      const auto of = [=](const Tally& t) -> const statistics::PairMoments& { return t.joint.pair(first, second); };
      joint.correlations.push_back({first, second, correlation_figure(job, of, intervals)});
    }
  }
}

void add_sample(const Study::Prepared& study, const Job& job, Result& result) {
  joint_of(result).sample = sample_of(result, job.total().joint);
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    for (std::size_t c = 0; c < study.model.windows[w].criteria.size(); ++c) {
      if (!study.model.windows[w].criteria[c].channel) add_lines(study, w, c, result);
    }
  }
}

}  // namespace mintspread::study
