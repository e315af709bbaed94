#include "engine/study/pipeline.hpp"

#include <limits>

namespace mintspread::study {

Pipeline::Pipeline(const Study::Prepared& study, std::size_t lanes) : Pipeline(study, lanes, study.draws.nominal()) {}

Pipeline::Pipeline(const Study::Prepared& study, std::size_t lanes, std::span<const double> centre)
    : study_(&study),
      centre_(centre),
      deviations_(study.draws.coordinates(), lanes),
      inputs_(study.draws.inputs(), lanes),
      coins_(study.construction, lanes),
      workspace_(study.sensor.workspace(lanes)),
      reading_(study.model.sensor.channels.size(), lanes),
      coin_reading_(study.model.sensor.channels.size(), lanes),
      relations_(study.relations),
      relation_values_(study.relations.size(), lanes) {
  study.draws.fill(centre, inputs_);
  if (!study.model.sorts.empty()) sorter_.emplace(study.model, study.draws, study.sorting, lanes);
}

void Pipeline::draw_and_read(const DrawSource& source, std::uint64_t first, bool coin_too) {
  draw(source, first);
  if (!sorter_) return assemble_and_read(coin_too);
  sorter_->sort(source, first, centre_, deviations_, inputs_);
  read(coin_too);
  sorter_->finish(coins_, inputs_, reading_);
  take_out_removed(coin_too);
}

void Pipeline::take_out_removed(bool coin_too) {
  constexpr double none = std::numeric_limits<double>::quiet_NaN();
  const auto take_out = [](signature::Readings& readings, std::size_t lane) {
    for (std::size_t c = 0; c < readings.values.count(); ++c) readings.values[c][lane] = none;
    readings.unsolved[lane] = signature::Readings::no_piece;
  };
  for (std::size_t lane = 0; lane < inputs_.lanes(); ++lane) {
    if (sorter_->removed()[lane] == 0) continue;
    take_out(reading_, lane);
    if (coin_too) take_out(coin_reading_, lane);
    for (std::size_t r = 0; r < relations_.size(); ++r) relation_values_[r][lane] = none;
  }
}

void Pipeline::draw(const DrawSource& source, std::uint64_t first) {
  study_->draws.deviations(source, first, deviations_);
}

void Pipeline::assemble_and_read(bool coin_too) {
  assemble();
  read(coin_too);
}

void Pipeline::assemble() { study_->draws.assemble(deviations_, centre_, inputs_); }
void Pipeline::form() { form_coins(study_->model.coin, inputs_, coins_); }

void Pipeline::read(bool coin_too) {
  form();
  study_->sensor.read(coins_, inputs_, side(), signature::Conditions::drawn, workspace_, reading_);
  if (coin_too) {
    study_->sensor.read(coins_, inputs_, side(), signature::Conditions::nominal, workspace_, coin_reading_);
  }
  for (std::size_t r = 0; r < relations_.size(); ++r) relations_[r].evaluate(reading_.values, relation_values_[r]);
}

void Pipeline::read_unrounded() {
  form();
  study_->sensor.read(coins_, inputs_, side(), signature::Conditions::unrounded, workspace_, reading_);
}

}  // namespace mintspread::study
