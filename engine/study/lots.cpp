#include "engine/study/lots.hpp"

#include <algorithm>
#include <array>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <utility>

#include "engine/sampling/draws.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/statistics/nested_variance.hpp"
#include "engine/study/acceptance.hpp"
#include "engine/study/parallel.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;
/// Rejected fractions of a lot whose chance of being exceeded is told.
constexpr std::array<double, 5> rates{0.001, 0.002, 0.005, 0.01, 0.05};

/// How a lot is looked at.
struct LotDesign {
  std::string lot, load;
  std::uint64_t pieces_a_lot = 0, pieces_a_load = 0;
  std::size_t loads = 1;   ///< looked at
  std::size_t blocks = 1;  ///< of block_lanes pieces in each of them
};

[[noreturn]] void refuse(std::string what, std::string remedy) {
  throw InvalidSpecification({{"groups", std::move(what), std::move(remedy)}});
}

LotDesign design_of(const Study::Prepared& study, const LotOptions& options) {
  const auto& groups = study.model.groups;
  const Group* lot = nullptr;
  for (std::size_t g = reading_level + 1; g < groups.size(); ++g) {
    const bool wanted = options.group.empty() ? groups[g].from.empty() : groups[g].name == options.group;
    if (wanted && (lot == nullptr || groups[g].pieces > lot->pieces)) lot = &groups[g];
  }
  if (lot == nullptr && options.group.empty()) {
    refuse("the specification states no groups, so there are no lots to tell apart",
           "state the groups that share a draw, e.g. `groups: {strip lot: {pieces: 600000}}`");
  }
  if (lot == nullptr) {
    std::string names;
    for (std::size_t g = reading_level + 1; g < groups.size(); ++g)
      names += (names.empty() ? "" : ", ") + groups[g].name;
    refuse("there is no group '" + options.group + "' to take as a lot", "take one of: " + names);
  }
  LotDesign design{lot->name, "", lot->pieces, lot->pieces, 1, options.blocks_a_load};
  std::uint64_t largest = 0;
  for (const Group& group : groups) {
    if (group.from != lot->name || group.pieces <= largest || group.pieces >= lot->pieces) continue;
    largest = group.pieces;
    design.load = group.name;
    design.pieces_a_load = group.pieces;
    design.loads = std::min<std::size_t>(options.loads_a_lot, lot->pieces / group.pieces);
  }
  return design;
}

/// What one lot showed.
struct Lot {
  std::vector<std::vector<statistics::Moments>> channels;  ///< [channel][load]
  std::vector<std::uint64_t> rejected;                     ///< [window set]
  std::uint64_t pieces = 0;
};

/// First piece of a load looked at: a random place in it that leaves room for the pieces, even as draws want it.
std::uint64_t first_piece(const LotDesign& design, std::uint64_t seed, std::uint64_t lot, std::size_t load) {
  const std::uint64_t held = design.pieces_a_lot / design.pieces_a_load;
  const std::uint64_t chosen = load * held / design.loads;
  const std::uint64_t looked_at = design.blocks * block_lanes;
  const std::uint64_t room = design.pieces_a_load > looked_at ? design.pieces_a_load - looked_at : 0;
  const double u = sampling::uniform(seed, sampling::address_of("place in the load", load), 0, lot);
  const auto offset = static_cast<std::uint64_t>(u * static_cast<double>(room));
  return (lot * design.pieces_a_lot + chosen * design.pieces_a_load + offset) / 2 * 2;
}

Lot look_at(const Study::Prepared& study, const LotDesign& design, std::uint64_t seed, std::uint64_t index) {
  Lot lot;
  lot.channels.assign(study.model.sensor.channels.size(), std::vector<statistics::Moments>(design.loads));
  lot.rejected.assign(study.model.windows.size(), 0);
  Pipeline pipeline(study, block_lanes);
  std::vector<double> kept;
  for (std::size_t load = 0; load < design.loads; ++load) {
    const std::uint64_t first = first_piece(design, seed, index, load);
    for (std::size_t block = 0; block < design.blocks; ++block) {
      pipeline.draw_and_read({.seed = seed, .design = Design::nested}, first + block * block_lanes, false);
      for (std::size_t c = 0; c < lot.channels.size(); ++c) {
        kept.clear();
        for (const double value : pipeline.reading().values[c]) {
          if (!std::isnan(value)) kept.push_back(value);
        }
        lot.channels[c][load].add(kept);
      }
      for (std::size_t w = 0; w < lot.rejected.size(); ++w) {
        lot.rejected[w] += block_lanes - accepted_pieces(study, w, pipeline);
      }
      lot.pieces += block_lanes;
    }
  }
  return lot;
}

using Table = std::vector<std::vector<statistics::Moments>>;  ///< [lot][load]

/// Components of one channel with delete-one-lot jackknife intervals; shown as standard deviations, negative where the
/// component is.
std::vector<LotComponent> components_of(const Table& table, const LotDesign& design) {
  const auto signed_root = [](double v) { return std::copysign(std::sqrt(std::abs(v)), v); };
  const auto estimate = [](const Table& lots) {
    const auto v = statistics::components(statistics::mean_squares(lots));
    return std::array<double, 3>{v.between_lots, v.between_loads, v.within_loads};
  };
  const auto all = estimate(table);
  std::array<statistics::Moments, 3> left_out;
  Table rest = table;
  for (std::size_t l = 0; l < table.size(); ++l) {
    // The last lot takes the place of the one left out; order within the table does not matter to mean squares.
    std::swap(rest[l], rest.back());
    const auto last = std::move(rest.back());
    rest.pop_back();
    const auto found = estimate(rest);
    for (std::size_t k = 0; k < 3; ++k) left_out[k].add(std::span(&found[k], 1));
    rest.push_back(last);
    std::swap(rest[l], rest.back());
  }
  const auto n = static_cast<double>(table.size());
  const double t = quantile(boost::math::students_t_distribution<>(n - 1.0), 0.5 * (1.0 + confidence));
  const std::array<std::string, 3> names{"between lots (" + design.lot + ")", "between loads (" + design.load + ")",
                                         design.load.empty() ? "within a lot" : "within a load"};
  std::vector<LotComponent> made;
  for (std::size_t k = 0; k < 3; ++k) {
    if (k == 1 && design.load.empty()) continue;
    const double half = t * std::sqrt((n - 1.0) / n * left_out[k].m2());
    made.push_back(
        {names[k], {signed_root(all[k]), Interval{signed_root(all[k] - half), signed_root(all[k] + half)}, {}}});
  }
  return made;
}

Figure order_figure(const std::vector<double>& sorted, double p) {
  const auto ranks = statistics::quantile_ranks(sorted.size(), p, confidence);
  const auto at = [&](std::uint64_t rank) { return sorted[std::clamp<std::uint64_t>(rank, 1, sorted.size()) - 1]; };
  const auto rank = static_cast<std::uint64_t>(std::ceil(p * static_cast<double>(sorted.size())));
  return {at(rank), Interval{at(ranks.lower), at(ranks.upper)}, {}};
}

LotWindow window_of(const std::vector<Lot>& lots, std::size_t window, std::string machine_class) {
  LotWindow made;
  made.machine_class = std::move(machine_class);
  std::vector<double> rejected;
  statistics::Moments moments;
  for (const Lot& lot : lots) {
    rejected.push_back(static_cast<double>(lot.rejected[window]) / static_cast<double>(lot.pieces));
    moments.add(std::span(&rejected.back(), 1));
  }
  const auto mean = statistics::mean_interval(moments, confidence);
  made.mean_rejected = {moments.mean(), Interval{std::max(0.0, mean.lower), std::min(1.0, mean.upper)}, {}};
  std::ranges::sort(rejected);
  for (const double p : {0.05, 0.5, 0.95}) made.rejected.push_back({p, order_figure(rejected, p)});
  for (const double rate : rates) {
    const auto over = static_cast<std::uint64_t>(std::ranges::count_if(rejected, [&](double r) { return r > rate; }));
    const auto interval = statistics::clopper_pearson(over, lots.size(), confidence);
    made.chances.push_back(
        {rate,
         {static_cast<double>(over) / static_cast<double>(lots.size()), Interval{interval.lower, interval.upper}, {}}});
  }
  return made;
}

}  // namespace

void add_lots(const Study::Prepared& study, const LotOptions& options, Result& result) {
  const LotDesign design = design_of(study, options);
  std::vector<Lot> lots(options.lots);
  for_each_index(lots.size(), options.threads, [&](std::size_t l) {
    if (!options.stop.stop_requested()) lots[l] = look_at(study, design, options.seed, l);
  });
  if (options.stop.stop_requested()) throw Interrupted();

  result.methods.lot =
      "chances Clopper-Pearson on lots, rejected parts order statistics of lots, their mean t over lots, components "
      "delete-one-lot jackknife";
  LotResult found;
  found.lot = design.lot;
  found.load = design.load;
  found.lots = lots.size();
  found.pieces_a_lot = lots.front().pieces;
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    found.windows.push_back(window_of(lots, w, study.model.windows[w].machine_class));
  }
  for (std::size_t c = 0; c < result.channels.size(); ++c) {
    Table table;
    for (const Lot& lot : lots) table.push_back(lot.channels[c]);
    const bool complete = std::ranges::all_of(table, [](const auto& loads) {
      return std::ranges::all_of(loads, [](const auto& load) { return load.count() >= 2; });
    });
    found.channels.push_back(
        {result.channels[c].name, complete ? components_of(table, design) : std::vector<LotComponent>{}});
  }
  result.lots = std::move(found);
}

}  // namespace mintspread::study
