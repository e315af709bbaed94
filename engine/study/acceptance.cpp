#include "engine/study/acceptance.hpp"

#include <algorithm>

namespace mintspread::study {

std::span<const double> values_of(const Study::Prepared& study, std::size_t window, std::size_t criterion,
                                  const Pipeline& pipeline) {
  const Criterion& of = study.model.windows[window].criteria[criterion];
  return of.channel ? pipeline.reading().values[*of.channel]
                    : pipeline.relations()[study.relation_of[window][criterion]];
}

std::array<bool, block_lanes> accepted_lanes(const Study::Prepared& study, std::size_t window,
                                             const Pipeline& pipeline) {
  std::array<bool, block_lanes> accepted{};
  const auto& criteria = study.model.windows[window].criteria;
  const std::size_t lanes = pipeline.reading().values.lanes();
  std::fill_n(accepted.begin(), lanes, true);
  for (std::size_t c = 0; c < criteria.size(); ++c) {
    const auto values = values_of(study, window, c, pipeline);
    for (std::size_t lane = 0; lane < lanes; ++lane) {
      accepted[lane] =
          accepted[lane] && values[lane] >= criteria[c].limits.lower && values[lane] <= criteria[c].limits.upper;
    }
  }
  return accepted;
}

std::size_t accepted_pieces(const Study::Prepared& study, std::size_t window, const Pipeline& pipeline) {
  const auto accepted = accepted_lanes(study, window, pipeline);
  return static_cast<std::size_t>(std::ranges::count(accepted, true));
}

}  // namespace mintspread::study
