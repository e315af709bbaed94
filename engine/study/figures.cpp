#include "engine/study/figures.hpp"

#include <algorithm>
#include <string>
#include <variant>

#include "engine/study/job_figures.hpp"
#include "engine/study/pipeline.hpp"

namespace mintspread::study {

namespace {

void add_yield(const Study::Prepared& study, const JobFigures& figures, Result& result) {
  const auto sorts_out = [](const Sort& sort) { return sort.limits.bounded(); };
  if (std::ranges::none_of(study.model.sorts, sorts_out)) return;
  YieldResult& yield = result.yield.emplace();
  yield.started = figures.all().sorting.started;
  yield.finished_pieces = figures.all().sorting.finished;
  const auto started = [](const Tally& t) { return t.sorting.started; };
  yield.finished = figures.part([](const Tally& t) { return t.sorting.finished; }, started);
  for (std::size_t s = 0; s < study.model.sorts.size(); ++s) {
    const Sort& sort = study.model.sorts[s];
    if (!sorts_out(sort)) continue;
    const auto in = [s](const Tally& t) { return t.sorting.sorts[s].in; };
    yield.sorts.push_back({sort.name, reads_of(study.model, study.sorting, s), sort.unit.name, sort.limits.lower,
                           sort.limits.upper, figures.part([s](const Tally& t) { return t.sorting.sorts[s].out; }, in),
                           figures.reworks(s),
                           figures.part([s](const Tally& t) { return t.sorting.sorts[s].scrapped; }, started)});
  }
  for (std::size_t m = 0; m < figures.all().sorting.metal.size(); ++m) {
    const Figure mass = figures.metal(m, [](const Tally& t) { return t.sorting.finished; });
    std::vector<Figure> accepted;
    for (std::size_t w = 0; w < study.model.windows.size(); ++w)
      accepted.push_back(figures.metal(m, [w](const Tally& t) { return t.windows[w].accepted; }));
    const std::string& bath = study.construction.metals[m + 1];
    std::string metal;
    for (const auto& step : std::get<route::Route>(study.model.coin).steps) {
      const auto* of = std::get_if<route::Bath>(&step);
      if (of != nullptr && of->name == bath) metal = of->metal.name;
    }
    yield.metals.push_back({bath, metal, mass, accepted});
  }
}

/// Step of a channel's readings in its unit.
double step_of(const signature::Channel& channel) { return channel.unit.spread_from_si(channel.resolution); }

}  // namespace

void add_figures(const Study::Prepared& study, const Job& job, Intervals intervals, Result& result) {
  const JobFigures figures(job, intervals);
  const Tally& all = figures.all();
  result.methods = figures.methods();
  result.outside = all.outside;
  result.unsolved = all.unsolved;
  result.first_unsolved = all.first_unsolved;
  add_yield(study, figures, result);
  for (std::size_t c = 0; c < result.channels.size(); ++c) {
    ChannelResult& to = result.channels[c];
    to.coin = figures.spread(
        [c](const Tally& t) -> auto& { return t.coin[c]; }, 0.0);
    to.reading = figures.spread(
        [c](const Tally& t) -> auto& { return t.reading[c]; }, step_of(study.model.sensor.channels[c]));
    to.undefined = all.reading[c].without_value - all.unsolved;
  }
  for (std::size_t w = 0; w < result.windows.size(); ++w) {
    WindowSetResult& set = result.windows[w];
    set.accepted = figures.fraction([w](const Tally& t) { return t.windows[w].accepted; });
    std::uint64_t most = 0;
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      const auto of = [w, c](const Tally& t) -> const CriterionTally& { return t.windows[w].criteria[c]; };
      const auto rejected = [of](const Tally& t) { return of(t).low + of(t).high + of(t).undefined; };
      CriterionResult& to = set.criteria[c];
      to.accepted = figures.fraction([rejected](const Tally& t) { return t.pieces - t.unsolved - rejected(t); });
      to.rejected_low = figures.fraction([of](const Tally& t) { return of(t).low; });
      to.rejected_high = figures.fraction([of](const Tally& t) { return of(t).high; });
      to.rejected = figures.fraction(rejected);
      to.rejected_only_here = figures.fraction([of](const Tally& t) { return of(t).only_here; });
      to.undefined = of(all).undefined;
      if (!to.channel) {
        const std::size_t relation = study.relation_of[w][c];
        to.reading = figures.spread(
            [relation](const Tally& t) -> auto& { return t.relations[relation]; }, 0.0);
      }
      if (rejected(all) > most) {
        most = rejected(all);
        set.worst = c;
      }
    }
  }
  std::size_t position = 0;
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    const Input& input = study.model.inputs[i];
    if (input.components.empty() || !input.tolerance.bounded()) continue;
    result.inputs[i].out_of_tolerance =
        figures.fraction([position](const Tally& t) { return t.out_of_tolerance[position]; });
    ++position;
  }
}

}  // namespace mintspread::study
