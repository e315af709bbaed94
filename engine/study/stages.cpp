#include "engine/study/stages.hpp"

#include <algorithm>
#include <cmath>
#include <limits>
#include <optional>
#include <vector>

#include "engine/statistics/intervals.hpp"
#include "engine/study/job_figures.hpp"
#include "engine/study/joint.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;
constexpr double open = std::numeric_limits<double>::infinity();
/// Cells of about as many pieces each in which the fraction accepted is told, and between whose edges windows run.
constexpr std::size_t cells = 10, window_cells = 100;

struct Span {
  double lower, upper;
};

std::uint64_t pieces_in(const statistics::BinnedCounts& counts, const Span& span) {
  if (counts.count() == 0) return 0;
  const double part = counts.fraction_below(span.upper) - counts.fraction_below(span.lower);
  return static_cast<std::uint64_t>(std::llround(part * static_cast<double>(counts.count())));
}

AcceptedWhere accepted_in(const JobFigures& figures, std::size_t quantity, std::size_t window, const Span& span) {
  const auto inside = [=](const Tally& t) { return pieces_in(t.stages.pieces(quantity), span); };
  return {span.lower, span.upper, figures.part(inside, [](const Tally& t) { return t.pieces - t.unsolved; }),
          figures.part([=](const Tally& t) { return pieces_in(t.stages.accepted(quantity, window), span); }, inside)};
}

/// Pieces and accepted ones below the edges of so many cells of about as many pieces: [0] is none, the last one all.
struct Below {
  std::vector<double> edge{-open};
  std::vector<std::uint64_t> pieces{0}, accepted{0};
};

Below below_edges(const statistics::BinnedCounts& pieces, const statistics::BinnedCounts& accepted,
                  std::size_t wanted) {
  Below below;
  const auto& all = pieces.counts();
  const auto& good = accepted.counts();
  std::uint64_t so_far = 0, good_so_far = 0;
  for (std::size_t i = 0; i < all.size() && so_far < pieces.count(); ++i) {
    so_far += all[i];
    good_so_far += good[i];
    if (so_far * wanted < below.edge.size() * pieces.count()) continue;
    below.edge.push_back(pieces.upper_edge(i));
    below.pieces.push_back(so_far);
    below.accepted.push_back(good_so_far);
  }
  below.edge.back() = open;
  return below;
}

bool secured(std::uint64_t accepted, std::uint64_t pieces, double at_least, double sure) {
  const auto n = static_cast<double>(pieces);
  if (static_cast<double>(accepted) < at_least * n) return false;
  // Wilson's bound costs next to nothing and is near enough to leave few windows to the other.
  if (statistics::wilson(accepted, pieces, sure).lower < at_least - 10.0 / n) return false;
  return statistics::clopper_pearson(accepted, pieces, sure).lower >= at_least;
}

std::optional<Span> widest_secured(const Below& below, double at_least) {
  std::optional<Span> found;
  std::uint64_t most = 0;
  const std::size_t last = below.edge.size() - 1;
  // The whole is no choice among windows; two-sided bounds, of which the lower one is used.
  const double sure = 1.0 - (1.0 - confidence) / (0.5 * static_cast<double>(last * (last + 1)));
  for (std::size_t from = 0; from < last; ++from) {
    for (std::size_t to = last; to > from; --to) {
      const std::uint64_t pieces = below.pieces[to] - below.pieces[from];
      if (pieces <= most) break;
      const bool whole = from == 0 && to == last;
      if (!secured(below.accepted[to] - below.accepted[from], pieces, at_least, whole ? confidence : sure)) continue;
      most = pieces;
      found = Span{below.edge[from], below.edge[to]};
      break;
    }
  }
  return found;
}

/// Of several targets on a class the highest.
std::optional<double> target_of(const ProductionModel& model, const std::string& machine_class) {
  std::optional<double> at_least;
  for (const Target& target : model.targets) {
    if (!target.machine_class.empty() && target.machine_class != machine_class) continue;
    at_least = std::max(at_least.value_or(0.0), target.at_least);
  }
  return at_least;
}

}  // namespace

void add_stages(const Study::Prepared& study, const Job& job, Intervals intervals, const Result* like, Result& result) {
  if (job.plan.stages.empty()) return;
  const JobFigures figures(job, intervals);
  const StageTally& all = figures.all().stages;
  const std::vector<StageQuantity> quantities = stage_quantities(study.model, study.sorting);
  StagesResult& stages = result.stages.emplace();
  stages.method = correlation_method(job);
  std::size_t position = 0;
  for (std::size_t q = 0; q < quantities.size(); ++q) {
    // What varies about the nominal centres decides, so that all centres tell of the same quantities.
    const StageResult* known = nullptr;
    if (like != nullptr) {
      const auto& told = like->stages->quantities;
      if (position == told.size() || told[position].name != quantities[q].name ||
          told[position].reads != quantities[q].reads)
        continue;
      known = &told[position++];
    } else if (!all.varies(q) || all.pieces(q).count() == 0) {
      continue;
    }
    StageResult& stage = stages.quantities.emplace_back();
    stage.name = quantities[q].name;
    stage.reads = quantities[q].reads;
    stage.unit = quantities[q].unit.name;
    for (std::size_t c = 0; c < result.channels.size(); ++c)
      stage.correlations.push_back(correlation_figure(
          job, [=](const Tally& t) -> const statistics::PairMoments& { return t.stages.pair(q, c); }, intervals));
    for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
      StageWindow& window = stage.windows.emplace_back();
      window.machine_class = study.model.windows[w].machine_class;
      window.at_least = target_of(study.model, window.machine_class);
      std::vector<Span> asked;
      std::optional<Span> secures;
      if (known != nullptr) {
        for (const auto& cell : known->windows[w].cells) asked.push_back({cell.lower, cell.upper});
        if (const auto& of = known->windows[w].secures) secures = Span{of->lower, of->upper};
      } else {
        const Below told = below_edges(all.pieces(q), all.accepted(q, w), cells);
        for (std::size_t e = 1; e < told.edge.size(); ++e) asked.push_back({told.edge[e - 1], told.edge[e]});
        if (window.at_least)
          secures = widest_secured(below_edges(all.pieces(q), all.accepted(q, w), window_cells), *window.at_least);
      }
      for (const Span& cell : asked) window.cells.push_back(accepted_in(figures, q, w, cell));
      if (secures) window.secures = accepted_in(figures, q, w, *secures);
    }
  }
}

}  // namespace mintspread::study
