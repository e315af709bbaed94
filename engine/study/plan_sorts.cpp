#include <algorithm>
#include <set>
#include <utility>
#include <variant>

#include "engine/base/contract.hpp"
#include "engine/study/form_coins.hpp"
#include "engine/study/sorter.hpp"

namespace mintspread::study {

namespace {

Stage stage_of(const route::Route& whole, std::size_t steps) {
  route::Route part;
  part.boundaries = whole.boundaries;
  part.steps.assign(whole.steps.begin(), whole.steps.begin() + static_cast<std::ptrdiff_t>(steps));
  Stage stage{std::move(part), {}};
  stage.construction = construction_of(stage.coin);
  return stage;
}

/// Positions of the route's baths in Construction::metals, as far as they come before `steps`.
std::vector<std::size_t> baths_before(const route::Route& route, std::size_t steps) {
  std::vector<std::size_t> metals;
  for (std::size_t i = 0; i < steps; ++i) {
    if (std::holds_alternative<route::Bath>(route.steps[i])) metals.push_back(metals.size() + 1);
  }
  return metals;
}

/// What the finished piece alone tells about a bath at this stage; null when nothing does.
const route::Bath* untold_at(const route::Route& route, std::size_t steps) {
  const auto after = [&](auto is) {
    return std::any_of(route.steps.begin() + static_cast<std::ptrdiff_t>(steps), route.steps.end(), is);
  };
  const bool unstruck = after([](const route::Step& s) { return std::holds_alternative<route::Strike>(s); });
  const bool plated_later = after([](const route::Step& s) { return std::holds_alternative<route::Bath>(s); });
  for (std::size_t i = 0; i < steps; ++i) {
    const auto* bath = std::get_if<route::Bath>(&route.steps[i]);
    if (bath == nullptr) continue;
    if (bath->stage == route::Stage::struck && !route::of_whole_layer(bath->kind) && unstruck) return bath;
    if (bath->kind == route::Amount::mass_fraction && plated_later) return bath;
  }
  return nullptr;
}

/// The channel a sort reads, with those before it that its formula may use.
signature::Sensor sensor_for(const signature::Sensor& whole, std::size_t channel) {
  signature::Sensor sensor = whole;
  sensor.slot.side_up = signature::SideUp::obverse;
  const bool formula = whole.channels[channel].value == signature::Value::expression;
  const auto begin = whole.channels.begin() + static_cast<std::ptrdiff_t>(formula ? 0 : channel);
  sensor.channels.assign(begin, whole.channels.begin() + static_cast<std::ptrdiff_t>(channel + 1));
  return sensor;
}

/// Whether units of a group lie within units of `whole`: pieces and readings do, and groups that are part of it.
bool lies_within(const std::vector<Group>& groups, std::size_t level, std::size_t whole) {
  if (level == piece_level || level == reading_level) return true;
  for (auto at = group_position(groups, groups[level].from); at; at = group_position(groups, groups[*at].from)) {
    if (*at == whole) return true;
  }
  return false;
}

/// Whether an input may count for what a sort reads. Its channels are read in nominal conditions.
bool counts_at(const Sort& sort, const Input& input) {
  return std::ranges::find(sort.later, input.step) == sort.later.end() && !input.path.starts_with("sensor.");
}

/// The factors and what is drawn jointly with any of them.
std::vector<std::size_t> with_joint(const DrawPlan& draws, const std::vector<std::size_t>& factors) {
  std::set<std::size_t> all(factors.begin(), factors.end());
  for (const auto& block : draws.correlated_blocks()) {
    if (std::ranges::any_of(block, [&](std::size_t f) { return all.contains(f); }))
      all.insert(block.begin(), block.end());
  }
  return {all.begin(), all.end()};
}

bool part_of_block(const DrawPlan& draws, const std::vector<std::size_t>& factors) {
  return std::ranges::any_of(draws.correlated_blocks(), [&](const auto& block) {
    const auto held =
        std::ranges::count_if(block, [&](std::size_t f) { return std::ranges::find(factors, f) != factors.end(); });
    return held != 0 && held != static_cast<std::ptrdiff_t>(block.size());
  });
}

class Planner {
 public:
  Planner(const ProductionModel& model, const DrawPlan& draws, const Columns& corners, double tolerance,
          std::span<const signature::FiniteCoins> finite, std::vector<Problem>& problems)
      : model_(model),
        route_(std::get<route::Route>(model.coin)),
        draws_(draws),
        corners_(corners),
        tolerance_(tolerance),
        finite_(finite),
        problems_(problems) {}

  SortPlan plan() {
    SortPlan made;
    made.baths = baths_before(route_, route_.steps.size()).size();
    for (std::size_t i = 0; i < route_.steps.size(); ++i) {
      const std::size_t metal = baths_before(route_, i).size();
      if (!std::holds_alternative<route::Removal>(route_.steps[i]) || metal == 0) continue;
      made.removals.push_back({i, metal, stage_of(route_, i), stage_of(route_, i + 1)});
    }
    made.blank = stage_of(route_, 1);
    for (std::size_t s = 0; s < model_.sorts.size(); ++s) made.sorts.push_back(stage(s));
    return made;
  }

 private:
  SortStage stage(std::size_t s) {
    const Sort& sort = model_.sorts[s];
    SortStage made{stage_of(route_, sort.after), {}, 0, baths_before(route_, sort.after), {}, {}, {}, {}, {}};
    if (const auto* bath = untold_at(route_, sort.after)) {
      problems_.push_back({sort.path,
                           "the thickness of bath '" + bath->name +
                               "' is told by the finished piece, which is not there yet at this sort",
                           "State the thickness as plated, or sort after the last step."});
      return made;
    }
    for (std::size_t f = 0; f < draws_.factors().size(); ++f) {
      const Factor& factor = draws_.factors()[f];
      const Input& input = model_.inputs[index(factor.input)];
      if (sort.load && !factor.drift && lies_within(model_.groups, factor.level, *sort.load) && counts_at(sort, input))
        made.within.push_back(f);
      if (std::ranges::find(sort.redone, input.step) != sort.redone.end()) made.redone.push_back(f);
    }
    made.drawn = with_joint(draws_, made.within);
    made.beside = draws_.factors_beside(made.within);
    if (part_of_block(draws_, made.redone))
      problems_.push_back({sort.path, "rework would draw one of two quantities anew that go together",
                           "let rework begin before both, or leave it out"});
    for (const std::size_t metal : made.metals) {
      const std::string& name = made.stage.construction.metals[metal];
      if (std::ranges::find(sort.stripped, name) != sort.stripped.end()) made.stripped.push_back(metal);
      if (name == sort.layer) made.column = metal;
    }
    if (sort.reads == Sort::Reads::channel)
      add_sensor(sort, s < finite_.size() ? finite_[s] : signature::FiniteCoins{}, made);
    return made;
  }

  void add_sensor(const Sort& sort, const signature::FiniteCoins& finite, SortStage& made) {
    Columns inputs(corners_.count(), corners_.lanes());
    for (std::size_t i = 0; i < inputs.count(); ++i) std::ranges::copy(corners_[i], inputs[i].begin());
    coin::CoinBlock coins(made.stage.construction, inputs.lanes());
    form_corners(made.stage.coin, inputs, coins);
    try {
      made.sensor.emplace(sensor_for(model_.sensor, sort.channel), coins, inputs, tolerance_, finite);
      made.column = made.sensor->sensor().channels.size() - 1;
    } catch (const InvalidSpecification& invalid) {
      for (const Problem& problem : invalid.problems())
        problems_.push_back(
            {sort.path, "the sensor cannot read the piece at this stage: " + problem.what, problem.remedy});
    }
  }

  const ProductionModel& model_;
  const route::Route& route_;
  const DrawPlan& draws_;
  const Columns& corners_;
  double tolerance_;
  std::span<const signature::FiniteCoins> finite_;
  std::vector<Problem>& problems_;
};

}  // namespace

ProductionModel model_of_sort(const ProductionModel& model, std::size_t s) {
  const Sort& sort = model.sorts[s];
  expect(sort.reads == Sort::Reads::channel, "a sort that reads a channel");
  const auto of_sensor = [&](InputId id) { return model.inputs[index(id)].path.starts_with("sensor."); };
  ProductionModel part = model;
  part.name = model.name + " at " + sort.path;
  part.coin = stage_of(std::get<route::Route>(model.coin), sort.after).coin;
  part.sensor = sensor_for(model.sensor, sort.channel);
  for (std::size_t i = 0; i < part.inputs.size(); ++i) {
    if (!of_sensor(static_cast<InputId>(i))) continue;
    part.inputs[i].components.clear();
    part.inputs[i].known_to.reset();
  }
  std::erase_if(part.correlations,
                [&](const RankCorrelation& pair) { return of_sensor(pair.first) || of_sensor(pair.second); });
  part.sorts.clear();
  part.windows.clear();
  part.targets.clear();
  return part;
}

SortPlan plan_sorts(const ProductionModel& model, const DrawPlan& draws, const Columns& corners, double tolerance,
                    std::span<const signature::FiniteCoins> finite, std::vector<Problem>& problems) {
  if (model.sorts.empty()) return {};
  return Planner(model, draws, corners, tolerance, finite, problems).plan();
}

}  // namespace mintspread::study
