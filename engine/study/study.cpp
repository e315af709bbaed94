#include "engine/study/study.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <limits>
#include <set>
#include <utility>

#include "engine/route/check.hpp"
#include "engine/sampling/draws.hpp"
#include "engine/study/budget.hpp"
#include "engine/study/form_coins.hpp"
#include "engine/study/pipeline.hpp"

namespace mintspread::study {

namespace {

/// Reach of the corner pieces in standard deviations: beyond what a run of a thousand million pieces draws.
constexpr double corner_reach = 4.5;
constexpr std::size_t corner_lanes = 64;
/// Pieces that try a sort.
constexpr std::uint64_t sort_pilot = 8 * block_lanes;

std::vector<std::string> channel_names(const signature::Sensor& sensor) {
  std::vector<std::string> names;
  for (const auto& channel : sensor.channels) names.push_back(channel.name);
  return names;
}

/// Each distinct relation once, and which one every criterion uses.
void collect_relations(const ProductionModel& model, std::vector<signature::Expression>& relations,
                       std::vector<std::vector<std::size_t>>& relation_of, std::vector<Problem>& problems) {
  const auto names = channel_names(model.sensor);
  std::vector<std::string> texts;
  for (const auto& set : model.windows) {
    auto& positions = relation_of.emplace_back(set.criteria.size(), 0);
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      const Criterion& criterion = set.criteria[c];
      if (criterion.channel) continue;
      const auto known = std::ranges::find(texts, criterion.expression);
      positions[c] = static_cast<std::size_t>(known - texts.begin());
      if (known != texts.end()) continue;
      try {
        relations.emplace_back(criterion.expression, names, criterion.path);
        texts.push_back(criterion.expression);
      } catch (const InvalidSpecification& invalid) {
        problems.insert(problems.end(), invalid.problems().begin(), invalid.problems().end());
      }
    }
  }
}

void append(std::vector<Problem>&& found, std::vector<Problem>& to) {
  to.insert(to.end(), std::make_move_iterator(found.begin()), std::make_move_iterator(found.end()));
}

/// Of more factors than the Sobol' points have coordinates, those that matter least are drawn plainly; says so.
void order_coordinates(Study::Prepared& study) {
  const std::size_t coordinates = study.points.dimensions();
  if (study.draws.coordinates() <= coordinates) return;
  std::vector<double> importance(study.model.inputs.size());
  for (const Budget& budget : budgets(study)) {
    double sum = 0.0;
    for (const BudgetEntry& entry : budget.entries) sum += entry.contribution.value * entry.contribution.value;
    for (const BudgetEntry& entry : budget.entries) {
      importance[entry.input] += entry.contribution.value * entry.contribution.value / sum;
    }
  }
  const auto order = study.draws.order_coordinates(importance);
  const Input& first = study.model.inputs[index(study.draws.factors()[order[coordinates]].input)];
  study.warnings.push_back(
      {first.path,
       "the " + std::to_string(order.size() - coordinates) + " of " + std::to_string(order.size()) +
           " random factors that matter least, from one of this quantity on, are drawn plainly: Sobol' points have " +
           std::to_string(coordinates) + " coordinates",
       ""});
}

/// Sends a few pieces through the sorts; a sort that keeps none of those that come to it is a mistake.
void check_sorts(Study::Prepared& study, bool provisional) {
  if (study.model.sorts.empty()) return;
  Pipeline pipeline(study, block_lanes);
  SortTally tally;
  std::vector<Limits> seen(study.model.sorts.size(),
                           {std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()});
  for (std::uint64_t first = 0; first < sort_pilot; first += block_lanes) {
    pipeline.draw_and_read({.seed = 1}, first, false);
    SortTally here;
    pipeline.sorter()->tell(block_lanes, here);
    tally.merge(here);
    for (std::size_t s = 0; s < seen.size(); ++s) {
      for (const double value : pipeline.sorter()->first_readings(s)) {
        if (value < seen[s].lower) seen[s].lower = value;
        if (value > seen[s].upper) seen[s].upper = value;
      }
    }
  }
  for (std::size_t s = 0; s < seen.size(); ++s) {
    const Sort& sort = study.model.sorts[s];
    // What another reading lets through decides about those behind it, too.
    if (provisional && sort.reads == Sort::Reads::channel) return;
    const std::uint64_t in = tally.sorts[s].in, scrapped = tally.sorts[s].scrapped;
    if (in == 0) continue;
    const auto told = [&](double value) {
      return fmt::format("{:.6g}{}{}", value, sort.unit.name.empty() ? "" : " ", sort.unit.name);
    };
    const std::string range = fmt::format("they read {} to {}", told(seen[s].lower), told(seen[s].upper));
    if (scrapped == in)
      throw InvalidSpecification(
          {{sort.path, fmt::format("this sort keeps none of {} pieces: {}", in, range),
            "State limits that some of them meet, or move the nominal values between the limits."}});
    if (static_cast<double>(scrapped) > 0.5 * static_cast<double>(in))
      study.warnings.push_back({sort.path,
                                fmt::format("this sort scraps {:.0f} % of the pieces: {}",
                                            100.0 * static_cast<double>(scrapped) / static_cast<double>(in), range),
                                ""});
  }
}

Study::Prepared prepare(ProductionModel model, const StudyOptions& options) {
  std::vector<Problem> problems;
  std::vector<Problem> warnings;
  DrawPlan draws(model, problems);
  std::vector<signature::Expression> relations;
  std::vector<std::vector<std::size_t>> relation_of;
  append(signature::check_sensor(model.sensor), problems);
  if (problems.empty()) collect_relations(model, relations, relation_of, problems);

  Columns corners(draws.inputs(), corner_lanes);
  draws.corners(corner_reach, corners);
  std::visit([&](const auto& made) { route::check(made, corners, problems, warnings); }, model.coin);
  if (!problems.empty()) throw InvalidSpecification(std::move(problems));

  coin::Construction construction = construction_of(model.coin);
  coin::CoinBlock coins(construction, corner_lanes);
  SortPlan sorting = plan_sorts(model, draws, corners, options.planar_tolerance, options.finite_at_sorts, problems);
  if (!problems.empty()) throw InvalidSpecification(std::move(problems));
  form_corners(model.coin, corners, coins);
  signature::SensorModel sensor(model.sensor, coins, corners, options.planar_tolerance, options.finite);
  const std::size_t coordinates = std::min(2 * draws.coordinates(), sampling::SobolPoints::largest_dimension);
  Study::Prepared study{
      std::move(model),     std::move(draws),       std::move(construction), std::move(sensor),
      std::move(relations), std::move(relation_of), std::move(warnings),     sampling::SobolPoints(coordinates),
      std::move(sorting)};
  order_coordinates(study);
  check_sorts(study, options.provisional);
  return study;
}

}  // namespace

Study::Study(ProductionModel model, const StudyOptions& options)
    : prepared_(std::make_unique<const Prepared>(prepare(std::move(model), options))) {}
Study::~Study() = default;
Study::Study(Study&&) noexcept = default;
Study& Study::operator=(Study&&) noexcept = default;

const ProductionModel& Study::model() const { return prepared_->model; }
const std::vector<Problem>& Study::warnings() const { return prepared_->warnings; }

}  // namespace mintspread::study
