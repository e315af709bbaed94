#include "engine/study/summary.hpp"

#include <algorithm>
#include <functional>
#include <utility>

namespace mintspread::study {

namespace {

/// Calls `visit` on every figure of a result that draws can move, always in the same order.
void for_each_figure(Result& result, const std::function<void(Figure&)>& visit) {
  const auto spread = [&](Spread& of) {
    visit(of.mean);
    visit(of.sd);
    visit(of.median);
    for (auto& quantile : of.quantiles) visit(quantile.figure);
  };
  for (auto& channel : result.channels) {
    spread(channel.coin);
    spread(channel.reading);
  }
  for (auto& set : result.windows) {
    visit(set.accepted);
    for (auto& criterion : set.criteria) {
      visit(criterion.accepted);
      visit(criterion.rejected_low);
      visit(criterion.rejected_high);
      visit(criterion.rejected);
      visit(criterion.rejected_only_here);
      if (criterion.reading) spread(*criterion.reading);
    }
  }
  if (result.yield) {
    visit(result.yield->finished);
    for (auto& sort : result.yield->sorts) {
      visit(sort.out);
      visit(sort.reworked);
      visit(sort.scrapped);
    }
    for (auto& metal : result.yield->metals) {
      visit(metal.mass);
      for (auto& accepted : metal.accepted) visit(accepted);
    }
  }
  if (result.joint) {
    for (auto& pair : result.joint->correlations) visit(pair.figure);
  }
  for (std::size_t s = 0; result.stages && s < result.stages->quantities.size(); ++s) {
    auto& stage = result.stages->quantities[s];
    for (auto& correlation : stage.correlations) visit(correlation);
    for (auto& window : stage.windows) {
      for (auto& cell : window.cells) {
        visit(cell.pieces);
        visit(cell.accepted);
      }
      if (!window.secures) continue;
      visit(window.secures->pieces);
      visit(window.secures->accepted);
    }
  }
  for (auto& input : result.inputs) {
    if (input.out_of_tolerance) visit(*input.out_of_tolerance);
  }
}

/// Values of every figure over several results of the same study: [figure][result].
std::vector<std::vector<double>> values_over(std::vector<Result>& results) {
  std::vector<std::vector<double>> values;
  for (Result& found : results) {
    std::size_t position = 0;
    for_each_figure(found, [&](const Figure& figure) {
      if (position == values.size()) values.emplace_back();
      values[position++].push_back(figure.value);
    });
  }
  return values;
}

}  // namespace

void add_bands(std::vector<Result>& outer, Result& result) {
  if (outer.empty()) return;
  const auto values = values_over(outer);
  std::size_t position = 0;
  for_each_figure(result, [&](Figure& figure) {
    const auto [lower, upper] = std::ranges::minmax(values[position++]);
    // The nominal centres are possible too, so the figure itself never lies outside its band.
    figure.band = Band{std::min(lower, figure.value), std::max(upper, figure.value)};
  });
}

void decide_targets(const Study::Prepared& study, Result& result) {
  for (const Target& target : study.model.targets) {
    TargetResult& to = result.targets.emplace_back();
    to.text = target.text;
    to.met = true;
    bool found = false;
    for (const WindowSetResult& set : result.windows) {
      if (!target.machine_class.empty() && set.machine_class != target.machine_class) continue;
      // Of several classes the one that accepts least decides.
      if (!found || set.accepted.value < to.figure.value) to.figure = set.accepted;
      found = true;
    }
    to.met = found && to.figure.value >= target.at_least;
    to.decided = found && to.figure.interval &&
                 (to.figure.interval->lower >= target.at_least || to.figure.interval->upper < target.at_least);
  }
}

}  // namespace mintspread::study
