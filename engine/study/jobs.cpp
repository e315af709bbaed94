#include "engine/study/jobs.hpp"

#include <algorithm>
#include <bit>
#include <memory>

#include "engine/statistics/binned_counts.hpp"
#include "engine/study/parallel.hpp"

namespace mintspread::study {

namespace {

/// Values of a column of readings, block after block, for fixing edges.
using Pilot = std::vector<std::vector<double>>;

void append(const Columns& values, Pilot& pilot) {
  pilot.resize(values.count());
  for (std::size_t c = 0; c < values.count(); ++c) pilot[c].insert(pilot[c].end(), values[c].begin(), values[c].end());
}

std::vector<statistics::BinEdges> edges_of(const Pilot& pilot) {
  std::vector<statistics::BinEdges> edges;
  for (const auto& values : pilot) edges.push_back(statistics::BinEdges::from_pilot(values));
  return edges;
}

/// Edges depend on the study, the seed and the first pieces only, so that shards agree on them.
TallyPlan plan_tallies(const Study::Prepared& study, const DrawSource& source, const Job& job) {
  Pipeline pipeline(study, block_lanes, job.centre);
  Pilot coin, reading, relations, stages;
  for (std::size_t first = 0; first < job.pilot; first += block_lanes) {
    pipeline.draw_and_read(source, first, true);
    append(pipeline.coin_reading().values, coin);
    append(pipeline.reading().values, reading);
    append(pipeline.relations(), relations);
    if (pipeline.sorter() != nullptr) append(pipeline.sorter()->stages(), stages);
  }
  TallyPlan plan;
  plan.coin = edges_of(coin);
  plan.reading = edges_of(reading);
  plan.relations = edges_of(relations);
  plan.stages = edges_of(stages);
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    auto& tests = plan.windows.emplace_back();
    const auto& criteria = study.model.windows[w].criteria;
    for (std::size_t c = 0; c < criteria.size(); ++c) {
      tests.push_back({!criteria[c].channel, criteria[c].channel.value_or(study.relation_of[w][c]),
                       criteria[c].limits.lower, criteria[c].limits.upper});
    }
  }
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    const Input& input = study.model.inputs[i];
    if (!input.components.empty() && input.tolerance.bounded()) plan.tolerances.push_back({i, input.tolerance});
  }
  return plan;
}

struct Chunk {
  std::size_t job, replicate;
  std::uint64_t first, end;
};

Tally tally_chunk(const Study::Prepared& study, const Job& job, const DrawSource& source, const Chunk& chunk,
                  bool coin_spread) {
  Tally tally(job.plan);
  Pipeline pipeline(study, block_lanes, job.centre);
  for (std::uint64_t block = chunk.first; block < chunk.end; block += block_lanes) {
    pipeline.draw_and_read(source, block, coin_spread);
    tally.add(block, std::min<std::uint64_t>(block_lanes, chunk.end - block), pipeline.inputs(),
              coin_spread ? &pipeline.coin_reading() : nullptr, pipeline.reading(), pipeline.relations(),
              pipeline.sorter() != nullptr ? &pipeline.sorter()->stages() : nullptr);
    if (pipeline.sorter() == nullptr) continue;
    SortTally sorted;
    pipeline.sorter()->tell(std::min<std::uint64_t>(block_lanes, chunk.end - block), sorted);
    tally.sorting.merge(sorted);
  }
  return tally;
}

/// Reports progress and obeys the stop token, between rounds of chunks.
class Watch {
 public:
  Watch(const RunOptions& options, std::uint64_t total) : options_(&options), total_(total) {}
  void done(std::uint64_t pieces) {
    done_ += pieces;
    if (options_->stop.stop_requested()) throw Interrupted();
    if (options_->progress) options_->progress(static_cast<double>(done_) / static_cast<double>(total_));
  }

 private:
  const RunOptions* options_;
  std::uint64_t total_;
  std::uint64_t done_ = 0;
};

std::vector<Chunk> chunks_of(const std::vector<Job>& jobs, std::span<const std::size_t> waiting) {
  std::vector<Chunk> chunks;
  for (const std::size_t j : waiting) {
    const PointSets& sets = jobs[j].sets;
    for (std::size_t r = 0; r < sets.replicates; ++r) {
      const std::uint64_t end = (r + 1) * sets.each;
      for (std::uint64_t first = r * sets.each; first < end; first += chunk_pieces) {
        chunks.push_back({j, r, first, std::min<std::uint64_t>(first + chunk_pieces, end)});
      }
    }
  }
  return chunks;
}

}  // namespace

PointSets point_sets(Points points, std::uint64_t pieces) {
  constexpr std::uint64_t least_replicates = 32;
  if (points == Points::plain || pieces < least_replicates * block_lanes) return {Points::plain, 1, pieces};
  const std::uint64_t net = std::bit_floor(pieces / least_replicates);
  return {Points::sobol, static_cast<std::size_t>((pieces + net - 1) / net), net};
}

DrawSource source_of(const Study::Prepared& study, std::uint64_t seed, const PointSets& sets, std::size_t replicate) {
  DrawSource source{.seed = seed};
  if (sets.points == Points::sobol) {
    source.points = &study.points;
    source.replicate = replicate;
    source.replicate_first = replicate * sets.each;
  }
  return source;
}

Tally Job::total() const {
  Tally all(plan);
  for (const Tally& tally : tallies) all.merge(tally);
  return all;
}

void run_jobs(const Study::Prepared& study, const RunOptions& options, std::vector<Job>& jobs) {
  std::vector<std::size_t> waiting;
  std::uint64_t pieces = 0;
  for (std::size_t j = 0; j < jobs.size(); ++j) {
    if (!jobs[j].tallies.empty()) continue;
    waiting.push_back(j);
    pieces += jobs[j].sets.pieces();
  }
  for_each_index(waiting.size(), options.threads, [&](std::size_t w) {
    Job& job = jobs[waiting[w]];
    job.plan = plan_tallies(study, source_of(study, options.seed, job.sets, 0), job);
    job.tallies.assign(job.sets.replicates, Tally(job.plan));
  });
  Watch watch(options, pieces);
  const std::vector<Chunk> chunks = chunks_of(jobs, waiting);
  const std::size_t threads = options.threads == 0 ? available_threads() : options.threads;
  const std::size_t round = 4 * threads;
  std::vector<std::unique_ptr<Tally>> tallies(round);
  for (std::size_t begin = 0; begin < chunks.size(); begin += round) {
    const std::size_t count = std::min(round, chunks.size() - begin);
    for_each_index(count, threads, [&](std::size_t i) {
      const Chunk& chunk = chunks[begin + i];
      const Job& job = jobs[chunk.job];
      tallies[i] = std::make_unique<Tally>(tally_chunk(
          study, job, source_of(study, options.seed, job.sets, chunk.replicate), chunk, options.coin_spread));
    });
    // Always in the order of the chunks: sums of doubles depend on it.
    std::uint64_t done = 0;
    for (std::size_t i = 0; i < count; ++i) {
      const Chunk& chunk = chunks[begin + i];
      jobs[chunk.job].tallies[chunk.replicate].merge(*tallies[i]);
      done += chunk.end - chunk.first;
    }
    watch.done(done);
  }
}

}  // namespace mintspread::study
