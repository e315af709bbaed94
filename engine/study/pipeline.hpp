#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/signature/expression.hpp"
#include "engine/signature/sensor_model.hpp"
#include "engine/study/draw_plan.hpp"
#include "engine/study/form_coins.hpp"
#include "engine/study/sorter.hpp"
#include "engine/study/study.hpp"

namespace mintspread::study {

/// Everything a block of pieces needs, shared by all threads.
struct Study::Prepared {
  ProductionModel model;
  DrawPlan draws;
  coin::Construction construction;
  signature::SensorModel sensor;
  std::vector<signature::Expression> relations;       ///< distinct texts, in order of appearance
  std::vector<std::vector<std::size_t>> relation_of;  ///< [window set][criterion]: position in `relations`
  std::vector<Problem> warnings;  ///< without those about single channels, which are the sensor's marks
  sampling::SobolPoints points;   ///< coordinates for two streams of draws, as far as there are
  SortPlan sorting;
};

/// One thread's way from draws to readings: draw -> form -> signature, block after block. Owns the buffers.
class Pipeline {
 public:
  /// `centre` holds one value an input and outlives the pipeline; the inputs start there.
  Pipeline(const Study::Prepared& study, std::size_t lanes, std::span<const double> centre);
  /// About the nominal centres.
  Pipeline(const Study::Prepared& study, std::size_t lanes);

  /// Draws pieces `first` .. first + lanes, sorts them in their route, forms them and reads them. Pieces that a sort
  /// took out have no reading (Readings::no_piece).
  void draw_and_read(const DrawSource& source, std::uint64_t first, bool coin_too);
  /// The two halves of it without sorting: draws into deviations(), and what follows from what stands there.
  void draw(const DrawSource& source, std::uint64_t first);
  void assemble_and_read(bool coin_too);
  /// The parts of that, without a reading: inputs() from deviations(), coins() from inputs().
  void assemble();
  void form();
  /// Forms and reads pieces whose inputs stand in inputs(), under the drawn conditions of those inputs.
  void read(bool coin_too);

  /// The same without rounding to the channels' resolution, and without relations.
  void read_unrounded();

  Columns& deviations() { return deviations_; }
  Columns& inputs() { return inputs_; }
  const coin::CoinBlock& coins() const { return coins_; }
  const signature::Readings& reading() const { return reading_; }
  /// What the sorts did to the pieces of the last draw_and_read; null where there are none.
  const Sorter* sorter() const { return sorter_ ? &*sorter_ : nullptr; }
  const signature::Readings& coin_reading() const { return coin_reading_; }
  const Columns& relations() const { return relation_values_; }
  /// What the sensor left of the block.
  const signature::SensorModel::Workspace& workspace() const { return workspace_; }

 private:
  void take_out_removed(bool coin_too);
  std::span<const double> side() const { return deviations_[deviations_.count() - 1]; }

  const Study::Prepared* study_;
  std::span<const double> centre_;
  Columns deviations_, inputs_;
  coin::CoinBlock coins_;
  signature::SensorModel::Workspace workspace_;
  signature::Readings reading_, coin_reading_;
  std::vector<signature::Expression> relations_;
  Columns relation_values_;
  std::optional<Sorter> sorter_;
};

}  // namespace mintspread::study
