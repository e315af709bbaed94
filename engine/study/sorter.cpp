#include "engine/study/sorter.hpp"

#include <algorithm>
#include <cmath>
#include <iterator>
#include <limits>
#include <numeric>
#include <utility>

#include "engine/study/form_coins.hpp"

namespace mintspread::study {

namespace {

using Of = coin::CoinBlock::Of;
using Piece = coin::CoinBlock::Piece;

/// Streams 0 and 1 are those of pieces. Test pieces of a load count from 1, the piece itself is 0.
std::uint32_t stream_of(std::size_t sort, std::size_t attempt, std::size_t test_piece) {
  return static_cast<std::uint32_t>(2 + (sort * (most_reworks + 1) + attempt) * (most_test_pieces + 1) + test_piece);
}

const char* const blank_reads[] = {"thickness", "diameter", "mass", "conductivity", "permeability"};
const Unit blank_units[] = {{"mm", 1e-3, 0.0}, {"mm", 1e-3, 0.0}, {"g", 1e-3, 0.0}, {"MS/m", 1e6, 0.0}, {"", 1.0, 0.0}};

std::vector<coin::CoinBlock> blocks_of(const std::vector<const coin::Construction*>& made, std::size_t lanes) {
  std::vector<coin::CoinBlock> blocks;
  for (const auto* construction : made) blocks.emplace_back(*construction, lanes);
  return blocks;
}

}  // namespace

std::string reads_of(const ProductionModel& model, const SortPlan& plan, std::size_t s) {
  const Sort& sort = model.sorts[s];
  std::string text;
  switch (sort.reads) {
    case Sort::Reads::channel:
      text = "channel " + model.sensor.channels[sort.channel].name;
      text += std::string(", ") +
              signature::model_of(model.sensor.channels[sort.channel], plan.sorts[s].sensor->coin_model());
      break;
    case Sort::Reads::thickness:
      text = "thickness";
      break;
    case Sort::Reads::diameter:
      text = "diameter";
      break;
    case Sort::Reads::mass:
      text = "mass";
      break;
    case Sort::Reads::layer:
      text = "thickness of " + sort.layer;
      break;
  }
  if (!sort.load) return text;
  const std::string& group = model.groups[*sort.load].name;
  return text + ", " + std::to_string(sort.test_pieces) + " per " + group;
}

std::vector<StageQuantity> stage_quantities(const ProductionModel& model, const SortPlan& plan) {
  std::vector<StageQuantity> made;
  for (std::size_t s = 0; s < model.sorts.size(); ++s) {
    std::string name = model.sorts[s].path;
    std::ranges::replace(name, '.', ' ');
    made.push_back({name, reads_of(model, plan, s), model.sorts[s].unit});
  }
  if (model.sorts.empty()) return made;
  for (std::size_t b = 0; b < std::size(blank_reads); ++b) made.push_back({"blank", blank_reads[b], blank_units[b]});
  return made;
}

Sorter::Sorter(const ProductionModel& model, const DrawPlan& draws, const SortPlan& plan, std::size_t lanes)
    : model_(&model),
      draws_(&draws),
      plan_(&plan),
      fresh_(draws.coordinates(), lanes),
      test_deviations_(draws.coordinates(), lanes),
      test_inputs_(draws.inputs(), lanes),
      first_readings_(plan.sorts.size(), lanes),
      stages_(stage_quantities(model, plan).size(), lanes),
      value_(lanes),
      once_(lanes),
      removed_(lanes),
      made_(lanes),
      passed_(plan.sorts.size(), std::vector<Passed>(lanes)),
      metal_(plan.baths, lanes),
      all_metals_(plan.baths) {
  std::iota(all_metals_.begin(), all_metals_.end(), std::size_t{1});
  std::vector<const coin::Construction*> made, before, behind;
  for (const SortStage& sort : plan.sorts) {
    made.push_back(&sort.stage.construction);
    workspaces_.emplace_back();
    readings_.emplace_back();
    if (!sort.sensor) continue;
    workspaces_.back().emplace(sort.sensor->workspace(lanes));
    readings_.back().emplace(sort.sensor->sensor().channels.size(), lanes);
  }
  for (const TakenOff& removal : plan.removals) {
    before.push_back(&removal.before.construction);
    behind.push_back(&removal.behind.construction);
  }
  coins_ = blocks_of(made, lanes);
  if (plan.blank) blank_.emplace(plan.blank->construction, lanes);
  before_ = blocks_of(before, lanes);
  behind_ = blocks_of(behind, lanes);
}

void Sorter::sort(const DrawSource& source, std::uint64_t first, std::span<const double> centre, Columns& deviations,
                  Columns& inputs) {
  draws_->assemble(deviations, centre, inputs);
  std::ranges::fill(removed_, std::uint8_t{0});
  for (auto& lanes : passed_) std::ranges::fill(lanes, Passed{});
  for (std::size_t m = 0; m < metal_.count(); ++m) std::ranges::fill(metal_[m], 0.0);
  for (std::size_t s = 0; s < plan_->sorts.size(); ++s) inspect(s, source, first, centre, deviations, inputs);
}

void Sorter::inspect(std::size_t s, const DrawSource& source, std::uint64_t first, std::span<const double> centre,
                     Columns& deviations, Columns& inputs) {
  const Sort& sort = model_->sorts[s];
  const SortStage& stage = plan_->sorts[s];
  const std::size_t lanes = removed_.size();
  measure(s, 0, source, first, centre, deviations, inputs);
  std::ranges::copy(value_, stages_[s].begin());
  std::vector<std::uint8_t> bad(lanes);
  bool any = false;
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    first_readings_[s][lane] =
        removed_[lane] == 0 && made_[lane] != 0 ? value_[lane] : std::numeric_limits<double>::quiet_NaN();
    // A piece that cannot be made is for those to count who find it so.
    if (removed_[lane] != 0 || made_[lane] == 0) continue;
    Passed& passed = passed_[s][lane];
    passed.in = true;
    passed.out = out(s, lane);
    bad[lane] = passed.out ? 1 : 0;
    any = any || passed.out;
  }
  for (std::size_t attempt = 1; any && attempt <= sort.times; ++attempt) {
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      if (bad[lane] == 0) continue;
      add_metal(coins_[s], stage.stripped, lane);
      ++passed_[s][lane].reworked;
    }
    add_taken_off(inputs, sort.after, stage.stripped, bad);
    DrawSource again = source;
    again.stream = stream_of(s, attempt, 0);
    draws_->deviations(again, first, stage.redone, fresh_);
    for (const std::size_t f : stage.redone) {
      for (std::size_t lane = 0; lane < lanes; ++lane) {
        if (bad[lane] != 0) deviations[f][lane] = fresh_[f][lane];
      }
    }
    draws_->assemble(deviations, centre, inputs);
    measure(s, attempt, source, first, centre, deviations, inputs);
    any = false;
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      if (bad[lane] == 0) continue;
      stages_[s][lane] = value_[lane];
      bad[lane] = made_[lane] != 0 && out(s, lane) ? 1 : 0;
      any = any || bad[lane] != 0;
    }
  }
  if (!any) return;
  for (std::size_t lane = 0; lane < lanes; ++lane) {
    if (bad[lane] == 0) continue;
    passed_[s][lane].scrapped = true;
    removed_[lane] = static_cast<std::uint8_t>(s + 1);
    add_metal(coins_[s], stage.metals, lane);
  }
  add_taken_off(inputs, sort.after, all_metals_, bad);
}

void Sorter::measure(std::size_t s, std::size_t attempt, const DrawSource& source, std::uint64_t first,
                     std::span<const double> centre, const Columns& deviations, const Columns& inputs) {
  const Sort& sort = model_->sorts[s];
  const SortStage& stage = plan_->sorts[s];
  if (!sort.load) {
    read_once(s, inputs);
    std::ranges::copy(once_, value_.begin());
    return;
  }
  for (std::size_t i = 0; i < inputs.count(); ++i) std::ranges::copy(inputs[i], test_inputs_[i].begin());
  for (const std::size_t f : stage.beside) std::ranges::copy(deviations[f], test_deviations_[f].begin());
  std::ranges::fill(value_, 0.0);
  std::vector<std::uint8_t> made(made_.size(), 1);
  for (std::size_t k = 1; k <= sort.test_pieces; ++k) {
    DrawSource test = source;
    test.stream = stream_of(s, attempt, k);
    test.alike = sort.load;
    draws_->deviations(test, first, stage.drawn, fresh_);
    for (const std::size_t f : stage.within) std::ranges::copy(fresh_[f], test_deviations_[f].begin());
    draws_->assemble(test_deviations_, centre, stage.beside, test_inputs_);
    read_once(s, test_inputs_);
    for (std::size_t lane = 0; lane < value_.size(); ++lane) {
      value_[lane] += once_[lane] / static_cast<double>(sort.test_pieces);
      made[lane] = made[lane] != 0 && made_[lane] != 0 ? 1 : 0;
    }
  }
  // Metal is told of the pieces themselves, not of the last test piece.
  form_coins(stage.stage.coin, inputs, coins_[s]);
  made_ = made;
}

void Sorter::read_once(std::size_t s, const Columns& inputs) {
  const Sort& sort = model_->sorts[s];
  const SortStage& stage = plan_->sorts[s];
  coin::CoinBlock& coins = coins_[s];
  form_coins(stage.stage.coin, inputs, coins);
  const auto diameter = std::as_const(coins).piece(Piece::diameter);
  const auto dimension = [&](std::span<const double> column) {
    for (std::size_t lane = 0; lane < once_.size(); ++lane) {
      made_[lane] = std::isnan(diameter[lane]) ? 0 : 1;
      once_[lane] = sort.unit.from_si(column[lane]);
    }
  };
  switch (sort.reads) {
    case Sort::Reads::channel: {
      stage.sensor->read(coins, inputs, {}, signature::Conditions::nominal, *workspaces_[s], *readings_[s]);
      std::ranges::copy(readings_[s]->values[stage.column], once_.begin());
      for (std::size_t lane = 0; lane < once_.size(); ++lane) made_[lane] = readings_[s]->unsolved[lane] == 0 ? 1 : 0;
      break;
    }
    case Sort::Reads::thickness:
      dimension(std::as_const(coins).piece(Piece::thickness));
      break;
    case Sort::Reads::diameter:
      dimension(diameter);
      break;
    case Sort::Reads::mass:
      dimension(std::as_const(coins).piece(Piece::mass));
      break;
    case Sort::Reads::layer:
      dimension(std::as_const(coins).of(stage.column, Of::face_thickness));
      break;
  }
  const auto bias = inputs[index(sort.bias)], repeatability = inputs[index(sort.repeatability)];
  for (std::size_t lane = 0; lane < once_.size(); ++lane)
    once_[lane] += sort.unit.spread_from_si(bias[lane] + repeatability[lane]);
}

bool Sorter::out(std::size_t s, std::size_t lane) const {
  const Limits& limits = model_->sorts[s].limits;
  // Without limits a stage only reads, and scraps nothing that has no reading.
  return limits.bounded() && !(value_[lane] >= limits.lower && value_[lane] <= limits.upper);
}

void Sorter::add_metal(const coin::CoinBlock& coins, std::span<const std::size_t> metals, std::size_t lane) {
  for (const std::size_t m : metals) {
    metal_[m - 1][lane] += coins.of(m, Of::volume)[lane] * coins.of(m, Of::density)[lane];
  }
}

void Sorter::add_taken_off(const Columns& inputs, std::size_t steps, std::span<const std::size_t> metals,
                           std::span<const std::uint8_t> lanes) {
  for (std::size_t r = 0; r < plan_->removals.size(); ++r) {
    const TakenOff& removal = plan_->removals[r];
    if (removal.after >= steps || std::ranges::find(metals, removal.metal) == metals.end()) continue;
    form_coins(removal.before.coin, inputs, before_[r]);
    form_coins(removal.behind.coin, inputs, behind_[r]);
    for (std::size_t lane = 0; lane < lanes.size(); ++lane) {
      if (lanes[lane] == 0) continue;
      const auto volume = [&](const coin::CoinBlock& coins) { return coins.of(removal.metal, Of::volume)[lane]; };
      metal_[removal.metal - 1][lane] +=
          (volume(before_[r]) - volume(behind_[r])) * before_[r].of(removal.metal, Of::density)[lane];
    }
  }
}

void Sorter::finish(const coin::CoinBlock& coins, const Columns& inputs, const signature::Readings& reading) {
  std::vector<std::uint8_t> finished(removed_.size());
  for (std::size_t lane = 0; lane < removed_.size(); ++lane) {
    made_[lane] = removed_[lane] != 0 || reading.unsolved[lane] == 0 ? 1 : 0;
    finished[lane] = removed_[lane] == 0 && made_[lane] != 0 ? 1 : 0;
    if (finished[lane] != 0) add_metal(coins, all_metals_, lane);
  }
  add_taken_off(inputs, std::numeric_limits<std::size_t>::max(), all_metals_, finished);
  if (!blank_) return;
  form_coins(plan_->blank->coin, inputs, *blank_);
  const coin::CoinBlock& blank = *blank_;
  const std::span<const double> columns[] = {blank.piece(Piece::thickness), blank.piece(Piece::diameter),
                                             blank.piece(Piece::mass), blank.of(0, Of::conductivity),
                                             blank.of(0, Of::permeability)};
  for (std::size_t b = 0; b < std::size(columns); ++b) {
    const auto to = stages_[plan_->sorts.size() + b];
    for (std::size_t lane = 0; lane < to.size(); ++lane) to[lane] = blank_units[b].from_si(columns[b][lane]);
  }
}

void Sorter::tell(std::size_t count, SortTally& tally) const {
  tally.sorts.resize(plan_->sorts.size());
  tally.metal.resize(plan_->baths);
  std::vector<double> kept;
  for (std::size_t lane = 0; lane < count; ++lane) {
    if (made_[lane] == 0) continue;
    ++tally.started;
    tally.finished += removed_[lane] == 0 ? 1U : 0U;
    for (std::size_t s = 0; s < tally.sorts.size(); ++s) {
      const Passed& passed = passed_[s][lane];
      tally.sorts[s].in += passed.in ? 1U : 0U;
      tally.sorts[s].out += passed.out ? 1U : 0U;
      tally.sorts[s].reworked += passed.reworked;
      tally.sorts[s].reworked_squares += std::uint64_t{passed.reworked} * passed.reworked;
      tally.sorts[s].scrapped += passed.scrapped ? 1U : 0U;
    }
  }
  for (std::size_t m = 0; m < tally.metal.size(); ++m) {
    kept.clear();
    for (std::size_t lane = 0; lane < count; ++lane) {
      if (made_[lane] != 0) kept.push_back(metal_[m][lane]);
    }
    tally.metal[m].add(kept);
  }
}

}  // namespace mintspread::study
