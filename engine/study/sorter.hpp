#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/signature/sensor_model.hpp"
#include "engine/study/draw_plan.hpp"
#include "engine/study/model.hpp"
#include "engine/study/sort_tally.hpp"

namespace mintspread::study {

/// The route up to some step, as a coin of its own.
struct Stage {
  Coin coin;
  coin::Construction construction;
};

/// Something known of a piece on its way: what a sort reads, its error included, or what the blank is.
struct StageQuantity {
  std::string name, reads;  ///< "sort blanks", "mass"; "blank", "thickness"
  Unit unit;
};

/// A sort made ready: the piece at its stage, the sensor for it, and which factors it draws anew.
struct SortStage {
  Stage stage;
  std::optional<signature::SensorModel> sensor;
  std::size_t column = 0;             ///< channel of that sensor, or metal whose thickness is read
  std::vector<std::size_t> metals;    ///< baths on the piece, positions in Construction::metals
  std::vector<std::size_t> stripped;  ///< of them, those that rework takes off
  std::vector<std::size_t> redone;    ///< factors of rework
  std::vector<std::size_t> within;    ///< factors in which the test pieces of a load differ, as far as they count
  std::vector<std::size_t> drawn;     ///< the same with what is drawn jointly with them
  std::vector<std::size_t> beside;    ///< the same with all others of their inputs
};

/// Metal that a pickle or burnish takes: what a bath has plated and the finished piece does not have.
struct TakenOff {
  std::size_t after;  ///< position of the removing step in the route
  std::size_t metal;
  Stage before, behind;
};

struct SortPlan {
  std::vector<SortStage> sorts;
  std::vector<TakenOff> removals;
  std::optional<Stage> blank;  ///< the piece before all other steps, where there are sorts
  std::size_t baths = 0;
};

/// The sorts' readings in their order, then thickness, diameter, mass, conductivity and permeability of the blank.
std::vector<StageQuantity> stage_quantities(const ProductionModel& model, const SortPlan& plan);
/// "mass", "thickness of copper, 5 per barrel", "channel layer, finite coin".
std::string reads_of(const ProductionModel& model, const SortPlan& plan, std::size_t sort);

/// What a sort that reads a channel has before it, as a model: the piece at its stage in nominal conditions, read by
/// that channel. Its FinitePreparation makes what StudyOptions::finite_at_sorts asks for.
ProductionModel model_of_sort(const ProductionModel& model, std::size_t sort);

/// `corners` are inputs of extreme pieces, lane 0 the nominal one; `finite` as in StudyOptions::finite_at_sorts. Adds
/// what is wrong to `problems`: a sort by a thickness that only the finished piece has, rework that separates
/// correlated quantities, a sensor that cannot read the piece at its stage.
SortPlan plan_sorts(const ProductionModel& model, const DrawPlan& draws, const Columns& corners, double tolerance,
                    std::span<const signature::FiniteCoins> finite, std::vector<Problem>& problems);

/// Sends blocks of pieces through the sorts of a route; the buffers of one thread. What becomes of a piece depends on
/// the study, the seed and its index: rework and test pieces take streams of draws of their own.
class Sorter {
 public:
  Sorter(const ProductionModel& model, const DrawPlan& draws, const SortPlan& plan, std::size_t lanes);

  /// Sorts pieces `first` .. whose deviations are drawn; those of reworked pieces are drawn anew in place. Leaves the
  /// inputs assembled.
  void sort(const DrawSource& source, std::uint64_t first, std::span<const double> centre, Columns& deviations,
            Columns& inputs);
  /// Tells metal and fate of the finished pieces; to be called when they are formed and read.
  void finish(const coin::CoinBlock& coins, const Columns& inputs, const signature::Readings& reading);
  /// Adds the first `count` lanes.
  void tell(std::size_t count, SortTally& tally) const;

  /// [lane] number of the sort that scrapped the piece, from 1; 0: it goes on.
  std::span<const std::uint8_t> removed() const { return removed_; }
  /// First readings at a sort; NaN where no piece came or none could be made.
  std::span<const double> first_readings(std::size_t sort) const { return first_readings_[sort]; }
  /// A column for each of stage_quantities(), of the pieces as they went on: readings with which they passed a sort,
  /// then the blanks themselves. Whole after finish(); meaningless in lanes that are removed or cannot be made.
  const Columns& stages() const { return stages_; }

 private:
  struct Passed {
    bool in = false, out = false, scrapped = false;
    std::uint8_t reworked = 0;
  };
  void inspect(std::size_t sort, const DrawSource& source, std::uint64_t first, std::span<const double> centre,
               Columns& deviations, Columns& inputs);
  void measure(std::size_t sort, std::size_t attempt, const DrawSource& source, std::uint64_t first,
               std::span<const double> centre, const Columns& deviations, const Columns& inputs);
  void read_once(std::size_t sort, const Columns& inputs);
  bool out(std::size_t sort, std::size_t lane) const;
  void add_metal(const coin::CoinBlock& coins, std::span<const std::size_t> metals, std::size_t lane);
  void add_taken_off(const Columns& inputs, std::size_t steps, std::span<const std::size_t> metals,
                     std::span<const std::uint8_t> lanes);

  const ProductionModel* model_;
  const DrawPlan* draws_;
  const SortPlan* plan_;
  std::vector<coin::CoinBlock> coins_;
  std::vector<std::optional<signature::SensorModel::Workspace>> workspaces_;
  std::vector<std::optional<signature::Readings>> readings_;
  std::vector<coin::CoinBlock> before_, behind_;  ///< of the removals
  Columns fresh_, test_deviations_, test_inputs_, first_readings_, stages_;
  std::optional<coin::CoinBlock> blank_;
  std::vector<double> value_, once_;
  std::vector<std::uint8_t> removed_, made_;
  std::vector<std::vector<Passed>> passed_;  ///< [sort][lane]
  Columns metal_;                            ///< [bath][lane], kg
  std::vector<std::size_t> all_metals_;
};

}  // namespace mintspread::study
