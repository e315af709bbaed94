#include "engine/study/lots.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <utility>

#include "engine/sampling/draws.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/statistics/moments.hpp"
#include "engine/study/acceptance.hpp"
#include "engine/study/parallel.hpp"
#include "engine/study/shares.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;
/// Rejected fractions of a lot whose chance of being exceeded is told.
constexpr std::array<double, 5> usual_rates{0.001, 0.002, 0.005, 0.01, 0.05};
constexpr std::size_t lanes_a_place = 64;

/// How a lot is looked at.
struct LotDesign {
  std::size_t level = 0;
  std::string lot, load;
  std::uint64_t pieces_a_lot = 0, pieces_a_load = 0;
  std::size_t loads = 1;   ///< looked at; parts of equal size where the lot has no loads
  std::size_t places = 1;  ///< in each of them, of `lanes` pieces that follow each other
  std::size_t lanes = 8;
};

/// The group that is a lot; null where there is none.
const Group* lot_among(const std::vector<Group>& groups, const std::string& name) {
  const Group* lot = nullptr;
  for (std::size_t g = reading_level + 1; g < groups.size(); ++g) {
    const bool wanted = name.empty() ? groups[g].from.empty() && groups[g].in_turn == 0 : groups[g].name == name;
    if (wanted && (lot == nullptr || groups[g].pieces > lot->pieces)) lot = &groups[g];
  }
  return lot;
}

LotDesign design_of(const Study::Prepared& study, const LotOptions& options) {
  if (const auto problem = check(options, study.model)) throw InvalidSpecification({*problem});
  const auto& groups = study.model.groups;
  const Group* lot = lot_among(groups, options.group);
  LotDesign design{*group_position(groups, lot->name), lot->name, "", lot->pieces, lot->pieces, 1, 1, lanes_a_place};
  std::uint64_t largest = 0;
  for (const Group& group : groups) {
    if (group.from != lot->name || group.pieces <= largest || group.pieces >= lot->pieces) continue;
    largest = group.pieces;
    design.load = group.name;
    design.pieces_a_load = group.pieces;
    design.loads = std::min<std::size_t>(options.loads_a_lot, lot->pieces / group.pieces);
  }
  if (design.load.empty()) {
    design.loads = std::clamp<std::uint64_t>(lot->pieces / (8 * lanes_a_place), 1, options.loads_a_lot);
    design.pieces_a_load = lot->pieces / design.loads;
  }
  design.places = std::clamp<std::uint64_t>(design.pieces_a_load / lanes_a_place, 1, options.places_a_load);
  if (design.pieces_a_load < lanes_a_place) design.lanes = std::max<std::uint64_t>(8, design.pieces_a_load / 8 * 8);
  return design;
}

/// Lots are drawn as independent of each other, so the lots looked at lie so far apart that none shares a unit of a
/// larger group with another, at random places in those.
std::uint64_t number_of(const Study::Prepared& study, const LotDesign& design, std::uint64_t seed, std::uint64_t lot) {
  const std::uint64_t apart = study.draws.order().reach() / design.pieces_a_lot + 1;
  const double u = sampling::uniform(seed, sampling::address_of("lot looked at", 0), 0, lot);
  return lot * 2 * apart + static_cast<std::uint64_t>(u * static_cast<double>(apart));
}

/// What one lot showed.
struct Lot {
  std::vector<std::uint64_t> rejected;  ///< [window set]
  std::uint64_t pieces = 0;
};

/// First piece of a place in a load, even as draws want it. The loads looked at lie evenly over the lot from a random
/// one on, so that all are as likely; the places divide a load evenly and each begins at random in its part.
std::uint64_t first_piece(const LotDesign& design, std::uint64_t seed, std::uint64_t lot, std::size_t load,
                          std::size_t place) {
  const std::uint64_t held = design.pieces_a_lot / design.pieces_a_load;
  const double from = sampling::uniform(seed, sampling::address_of("load looked at", 0), 0, lot);
  const auto start = static_cast<std::uint64_t>(from * static_cast<double>(held));
  const std::uint64_t chosen = (start + load * held / design.loads) % held;
  const std::uint64_t part = design.pieces_a_load / design.places;
  const std::uint64_t room = part > design.lanes ? part - design.lanes : 0;
  const double u =
      sampling::uniform(seed, sampling::address_of("place in the load", load), 0, lot * design.places + place);
  const auto offset = static_cast<std::uint64_t>(u * static_cast<double>(room));
  return (lot * design.pieces_a_lot + chosen * design.pieces_a_load + place * part + offset) / 2 * 2;
}

Lot look_at(const Study::Prepared& study, const LotDesign& design, std::uint64_t seed, std::uint64_t index) {
  Lot lot;
  lot.rejected.assign(study.model.windows.size(), 0);
  const std::uint64_t number = number_of(study, design, seed, index);
  const DrawSource source{.seed = seed, .design = Design::nested, .plant = index};
  Pipeline pipeline(study, design.lanes);
  for (std::size_t load = 0; load < design.loads; ++load) {
    for (std::size_t place = 0; place < design.places; ++place) {
      pipeline.draw_and_read(source, first_piece(design, seed, number, load, place), false);
      const auto& unsolved = pipeline.reading().unsolved;
      const auto left =
          design.lanes - static_cast<std::uint64_t>(std::ranges::count(unsolved, signature::Readings::no_piece));
      for (std::size_t w = 0; w < lot.rejected.size(); ++w) {
        lot.rejected[w] += left - accepted_pieces(study, w, pipeline);
      }
      lot.pieces += left;
    }
  }
  return lot;
}

Figure order_figure(const std::vector<double>& sorted, double p) {
  const auto ranks = statistics::quantile_ranks(sorted.size(), p, confidence);
  const auto at = [&](std::uint64_t rank) { return sorted[std::clamp<std::uint64_t>(rank, 1, sorted.size()) - 1]; };
  const auto rank = static_cast<std::uint64_t>(std::ceil(p * static_cast<double>(sorted.size())));
  return {at(rank), Interval{at(ranks.lower), at(ranks.upper)}, {}};
}

LotWindow window_of(const std::vector<Lot>& lots, std::size_t window, std::string machine_class,
                    const std::set<double>& rates) {
  LotWindow made;
  made.machine_class = std::move(machine_class);
  std::vector<double> rejected;
  statistics::Moments moments;
  for (const Lot& lot : lots) {
    // A lot that is sorted out whole rejects nothing further on.
    rejected.push_back(lot.pieces == 0 ? 0.0
                                       : static_cast<double>(lot.rejected[window]) / static_cast<double>(lot.pieces));
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

std::optional<Problem> check(const LotOptions& options, const ProductionModel& model) {
  if (lot_among(model.groups, options.group) != nullptr) return std::nullopt;
  std::string names;
  for (std::size_t g = reading_level + 1; g < model.groups.size(); ++g)
    names += (names.empty() ? "" : ", ") + model.groups[g].name;
  if (names.empty())
    return Problem{"groups", "the specification states no groups, so there are no lots to tell apart",
                   "state the groups that share a draw, e.g. `groups: {strip lot: {pieces: 600000}}`"};
  return Problem{"groups", "there is no group '" + options.group + "' to take as a lot", "take one of: " + names};
}

void add_lots(const Study::Prepared& study, const LotOptions& options, Result& result) {
  const LotDesign design = design_of(study, options);
  const std::uint64_t last = number_of(study, design, options.seed, options.lots);
  if (last + 1 >= sampling::index_limit / design.pieces_a_lot)
    throw InvalidSpecification(
        {{"groups",
          "the groups are so large that " + std::to_string(options.lots) + " lots are more pieces than can be drawn",
          "look at fewer lots, or check the numbers of pieces"}});
  std::vector<Lot> lots(options.lots);
  for_each_index(lots.size(), options.threads, [&](std::size_t l) {
    if (!options.stop.stop_requested()) lots[l] = look_at(study, design, options.seed, l);
  });
  if (options.stop.stop_requested()) throw Interrupted();

  result.methods.lot =
      "chances Clopper-Pearson on lots, rejected parts order statistics of lots, their mean t over lots, components "
      "delete-one jackknife over replicates";
  LotResult found;
  found.lot = design.lot;
  found.load = design.load;
  found.lots = lots.size();
  found.pieces_a_lot = design.loads * design.places * design.lanes;
  std::set<double> rates(usual_rates.begin(), usual_rates.end());
  rates.insert(options.rates.begin(), options.rates.end());
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    found.windows.push_back(window_of(lots, w, study.model.windows[w].machine_class, rates));
  }
  found.channels = group_components(study, {options.seed, options.component_rows, options.threads, options.stop});
  result.lots = std::move(found);
}

}  // namespace mintspread::study
