#include "engine/study/samples.hpp"

#include <algorithm>

#include "engine/study/acceptance.hpp"
#include "engine/study/jobs.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/pipeline.hpp"

namespace mintspread::study {

namespace {

/// Rows that one thread encodes at a time.
constexpr std::size_t stretch = 16 * block_lanes;

bool varies(const Input& input) { return !input.components.empty(); }

bool either_side(const Study::Prepared& study) { return study.model.sensor.slot.side_up == signature::SideUp::either; }

void copy_block(const Study::Prepared& study, Pipeline& pipeline, std::size_t row, Columns& values) {
  std::size_t column = 0;
  const auto next = [&] { return values[column++].subspan(row, block_lanes); };
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    const Input& input = study.model.inputs[i];
    if (!varies(input)) continue;
    std::ranges::transform(pipeline.inputs()[i], next().begin(), [&](double v) { return input.unit.from_si(v); });
  }
  if (either_side(study)) {
    const auto uniform = pipeline.deviations()[pipeline.deviations().count() - 1];
    std::ranges::transform(uniform, next().begin(), [](double u) { return u < 0.5 ? 1.0 : 0.0; });
  }
  for (std::size_t c = 0; c < study.model.sensor.channels.size(); ++c) {
    std::ranges::copy(pipeline.reading().values[c], next().begin());
  }
  for (std::size_t r = 0; r < study.relations.size(); ++r) {
    std::ranges::copy(pipeline.relations()[r], next().begin());
  }
  if (pipeline.sorter() != nullptr) {
    std::ranges::transform(pipeline.sorter()->removed(), next().begin(),
                           [](std::uint8_t sort) { return static_cast<double>(sort); });
  }
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    const auto accepted = accepted_lanes(study, w, pipeline);
    std::ranges::transform(accepted, next().begin(), [](bool yes) { return yes ? 1.0 : 0.0; });
  }
}

}  // namespace

std::vector<SampleColumn> sample_columns(const Study& study) {
  const Study::Prepared& prepared = study.prepared();
  std::vector<SampleColumn> columns;
  for (const Input& input : prepared.model.inputs) {
    if (varies(input)) columns.push_back({input.path, input.unit.name});
  }
  if (either_side(prepared)) columns.push_back({"obverse up", ""});
  for (const auto& channel : prepared.model.sensor.channels) columns.push_back({channel.name, channel.unit.name});
  for (std::size_t r = 0; r < prepared.relations.size(); ++r) {
    std::string text;
    for (std::size_t w = 0; w < prepared.model.windows.size(); ++w) {
      const auto& criteria = prepared.model.windows[w].criteria;
      for (std::size_t c = 0; c < criteria.size(); ++c) {
        if (!criteria[c].channel && prepared.relation_of[w][c] == r) text = criteria[c].expression;
      }
    }
    columns.push_back({text, ""});
  }
  if (!prepared.model.sorts.empty()) columns.push_back({"scrapped by sort", ""});
  for (const WindowSet& set : prepared.model.windows) {
    columns.push_back({set.machine_class.empty() ? "accepted" : "accepted by " + set.machine_class, ""});
  }
  return columns;
}

void for_each_sample(const Study& study, const RunOptions& options, std::uint64_t pieces,
                     const std::function<std::string(const Columns& values, std::size_t rows)>& encode,
                     const std::function<void(std::string_view)>& write) {
  const Study::Prepared& prepared = study.prepared();
  const PointSets sets = point_sets(options.points, pieces);
  const std::size_t columns = sample_columns(study).size();
  struct Stretch {
    std::size_t replicate;
    std::uint64_t first, end;
  };
  std::vector<Stretch> stretches;
  for (std::size_t r = 0; r < sets.replicates; ++r) {
    for (std::uint64_t first = r * sets.each; first < (r + 1) * sets.each; first += stretch) {
      stretches.push_back({r, first, std::min<std::uint64_t>(first + stretch, (r + 1) * sets.each)});
    }
  }
  const std::size_t round = 2 * (options.threads == 0 ? available_threads() : options.threads);
  std::vector<std::string> texts(round);
  for (std::size_t begin = 0; begin < stretches.size(); begin += round) {
    const std::size_t count = std::min(round, stretches.size() - begin);
    for_each_index(count, options.threads, [&](std::size_t i) {
      const auto& [replicate, first, end] = stretches[begin + i];
      const DrawSource source = source_of(prepared, options.seed, sets, replicate);
      Pipeline pipeline(prepared, block_lanes);
      Columns values(columns, stretch);
      for (std::uint64_t piece = first; piece < end; piece += block_lanes) {
        pipeline.draw_and_read(source, piece, false);
        copy_block(prepared, pipeline, piece - first, values);
      }
      texts[i] = encode(values, end - first);
    });
    for (std::size_t i = 0; i < count; ++i) write(texts[i]);
    if (options.stop.stop_requested()) throw Interrupted();
    if (options.progress) {
      options.progress(static_cast<double>(begin + count) / static_cast<double>(stretches.size()));
    }
  }
}

}  // namespace mintspread::study
