#include "engine/study/summary.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <functional>
#include <set>
#include <string>
#include <utility>

#include "engine/signature/planar.hpp"
#include "engine/statistics/intervals.hpp"
#include "engine/study/version.hpp"

namespace mintspread::study {

namespace {

constexpr double confidence = 0.95;
constexpr std::array<double, 4> printed_quantiles{0.00135, 0.025, 0.975, 0.99865};
constexpr std::size_t drawn_bins = 96;

Figure proportion(std::uint64_t count, std::uint64_t pieces, std::uint64_t unsolved, Intervals intervals) {
  const std::uint64_t solved = pieces - unsolved;
  if (solved == 0) return {};
  const double value = static_cast<double>(count) / static_cast<double>(solved);
  if (intervals == Intervals::none) return {value, {}, {}};
  // An unsolved piece may be on either side: it widens the interval both ways.
  const auto least = statistics::clopper_pearson(count, pieces, confidence);
  const auto most = statistics::clopper_pearson(count + unsolved, pieces, confidence);
  return {value, Interval{least.lower, most.upper}, {}};
}

Interval to_interval(const statistics::Interval& interval) { return {interval.lower, interval.upper}; }

/// `step` is the step a reading is rounded to, 0 where it is continuous: quantiles of rounded readings are such
/// readings.
Spread spread_of(const DistributionTally& tally, double step, Intervals intervals) {
  Spread spread;
  spread.pieces = tally.moments.count();
  if (spread.pieces == 0) return spread;
  const auto& moments = tally.moments;
  spread.mean = {moments.mean(), {}, {}};
  spread.smallest = tally.counts.smallest();
  spread.largest = tally.counts.largest();
  spread.resolution = std::max(tally.counts.resolution(), step);
  if (spread.pieces > 1) {
    spread.sd = {moments.sd(), {}, {}};
    if (intervals != Intervals::none) {
      spread.mean.interval = to_interval(statistics::mean_interval(moments, confidence));
      spread.sd.interval = to_interval(statistics::sd_interval(moments, confidence));
    }
  }
  const auto to_step = [&](double value) { return step > 0.0 ? step * std::nearbyint(value / step) : value; };
  const auto quantile = [&](double p) {
    Figure figure{to_step(tally.counts.quantile(p)), {}, {}};
    if (intervals != Intervals::none) {
      const auto found = tally.counts.quantile_interval(p, confidence);
      figure.interval = Interval{to_step(found.lower), to_step(found.upper)};
    }
    return figure;
  };
  spread.median = quantile(0.5);
  for (const double p : printed_quantiles) spread.quantiles.push_back({p, quantile(p)});
  const auto drawn = tally.counts.histogram(drawn_bins);
  spread.histogram = {drawn.lower, drawn.upper, drawn.counts, drawn.below, drawn.above};
  return spread;
}

/// Step of a channel's readings in its unit.
double step_of(const signature::Channel& channel) { return channel.unit.spread_from_si(channel.resolution); }

const char* basis_name(Basis basis) {
  switch (basis) {
    case Basis::measured:
      return "measured";
    case Basis::handbook:
      return "handbook";
    case Basis::supplier:
      return "supplier";
    case Basis::guess:
      return "guess";
    case Basis::drawing:
      return "drawing";
    case Basis::unstated:
      break;
  }
  return "unstated";
}

std::string levels_of(const ProductionModel& model, const Input& input) {
  std::string names;
  std::set<std::size_t> seen;
  for (const auto& component : input.components) {
    if (!seen.insert(component.level).second) continue;
    names += (names.empty() ? "" : ", ") + model.groups[component.level].name;
  }
  return names;
}

std::vector<InputResult> inputs_of(const Study::Prepared& study) {
  std::vector<InputResult> inputs;
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    const Input& input = study.model.inputs[i];
    InputResult& to = inputs.emplace_back();
    to.path = input.path;
    to.step = input.step;
    to.name = input.name;
    to.understood = input.understood;
    to.basis = basis_name(input.basis);
    if (!input.basis_note.empty()) to.basis += ", " + input.basis_note;
    to.level = levels_of(study.model, input);
    to.unit = input.unit;
    to.nominal = input.nominal;
    to.mean = study.draws.mean_of(static_cast<InputId>(i));
    to.sd = study.draws.spread_of(static_cast<InputId>(i));
    to.spread = !input.components.empty();
    to.known_to = input.known_to.has_value();
  }
  return inputs;
}

/// Handbook names of the metals, in the order of the construction.
std::vector<std::string> materials_of(const Coin& coin) {
  std::vector<std::string> names;
  if (const auto* section = std::get_if<route::Section>(&coin)) {
    for (const auto& layer : section->layers) names.push_back(layer.metal.name);
    return names;
  }
  for (const auto& step : std::get<route::Route>(coin).steps) {
    if (const auto* blank = std::get_if<route::Blank>(&step)) names.push_back(blank->metal.name);
    if (const auto* bath = std::get_if<route::Bath>(&step)) names.push_back(bath->metal.name);
  }
  return names;
}

NominalCoin nominal_coin(const Study::Prepared& study, const coin::CoinBlock& coins) {
  using Of = coin::CoinBlock::Of;
  using Piece = coin::CoinBlock::Piece;
  NominalCoin nominal;
  nominal.diameter = coins.piece(Piece::diameter)[0];
  nominal.thickness = coins.piece(Piece::thickness)[0];
  nominal.field_thickness = coins.piece(Piece::field_thickness)[0];
  nominal.rim_width = coins.piece(Piece::rim_width)[0];
  nominal.rim_height_up = coins.piece(Piece::rim_height_up)[0];
  nominal.rim_height_down = coins.piece(Piece::rim_height_down)[0];
  nominal.mass = coins.piece(Piece::mass)[0];
  const auto& construction = coins.construction();
  const auto materials = materials_of(study.model.coin);
  for (const std::size_t metal : construction.section) {
    const auto value = [&](Of what) { return coins.of(metal, what)[0]; };
    nominal.layers.push_back({construction.metals[metal], materials[metal], value(Of::face_thickness),
                              value(Of::rim_thickness), value(Of::conductivity), value(Of::permeability),
                              metal == construction.core});
  }
  const auto& sensor = study.sensor.sensor();
  const auto pair = [&](std::size_t drive, std::size_t receive) {
    const std::string& name = sensor.coils[drive].name;
    return drive == receive ? name : name + " to " + sensor.coils[receive].name;
  };
  for (const auto& row : study.sensor.nominal_impedances()) {
    nominal.impedances.push_back({pair(row.drive, row.receive), row.frequency, row.resistance, row.reactance,
                                  row.normalised_resistance, row.normalised_reactance, row.through});
  }
  for (const auto& row : study.sensor.nominal_decays()) {
    nominal.decays.push_back({pair(row.drive, row.receive), row.time, row.width, row.ramp, row.voltage});
  }
  return nominal;
}

void add_windows(const Study::Prepared& study, const Columns& relations, Result& result) {
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    const WindowSet& set = study.model.windows[w];
    WindowSetResult& to = result.windows.emplace_back();
    to.machine_class = set.machine_class;
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      const Criterion& criterion = set.criteria[c];
      CriterionResult& entry = to.criteria.emplace_back();
      entry.name = criterion.name;
      entry.relation = !criterion.channel;
      entry.expression = criterion.expression;
      entry.lower = criterion.limits.lower;
      entry.upper = criterion.limits.upper;
      entry.channel = criterion.channel;
      if (criterion.channel) {
        entry.unit = result.channels[*criterion.channel].unit;
        entry.nominal = result.channels[*criterion.channel].nominal;
      } else {
        entry.nominal = relations[study.relation_of[w][c]][0];
      }
    }
  }
}

enum class Kind { value, fraction };

/// Calls `visit` on every figure of a result that draws can move, always in the same order.
void for_each_figure(Result& result, const std::function<void(Figure&, Kind)>& visit) {
  const auto spread = [&](Spread& of) {
    visit(of.mean, Kind::value);
    visit(of.sd, Kind::value);
    visit(of.median, Kind::value);
    for (auto& quantile : of.quantiles) visit(quantile.figure, Kind::value);
  };
  for (auto& channel : result.channels) {
    spread(channel.coin);
    spread(channel.reading);
  }
  for (auto& set : result.windows) {
    visit(set.accepted, Kind::fraction);
    for (auto& criterion : set.criteria) {
      visit(criterion.accepted, Kind::fraction);
      visit(criterion.rejected_low, Kind::fraction);
      visit(criterion.rejected_high, Kind::fraction);
      visit(criterion.rejected_only_here, Kind::fraction);
      if (criterion.reading) spread(*criterion.reading);
    }
  }
  for (auto& input : result.inputs) {
    if (input.out_of_tolerance) visit(*input.out_of_tolerance, Kind::fraction);
  }
}

/// Values of every figure over several results of the same study: [figure][result].
std::vector<std::vector<double>> values_over(std::vector<Result>& results) {
  std::vector<std::vector<double>> values;
  for (Result& found : results) {
    std::size_t position = 0;
    for_each_figure(found, [&](const Figure& figure, Kind) {
      if (position == values.size()) values.emplace_back();
      values[position++].push_back(figure.value);
    });
  }
  return values;
}

}  // namespace

Result nominal_result(const Study::Prepared& study) {
  Result result;
  result.coin = study.model.name;
  result.construction = study.model.construction;
  result.note = study.model.note;
  result.sensor = study.model.sensor.name;

  Pipeline pipeline(study, 8);
  pipeline.read(true);
  result.nominal = nominal_coin(study, pipeline.coins());
  const auto& sensor = study.sensor.sensor();
  for (std::size_t c = 0; c < sensor.channels.size(); ++c) {
    ChannelResult& channel = result.channels.emplace_back();
    channel.name = sensor.channels[c].name;
    channel.kind = signature::describe(sensor, sensor.channels[c]);
    channel.unit = sensor.channels[c].unit.name;
    channel.model = signature::model_of(sensor.channels[c]);
    channel.marks = study.sensor.marks()[c];
    channel.nominal = study.sensor.nominal()[c];
  }
  result.inputs = inputs_of(study);
  add_windows(study, pipeline.relations(), result);
  result.methods = {"Clopper-Pearson on independent pieces", "normal theory", "normal theory with measured kurtosis",
                    "order statistics"};
  result.provenance.engine_version = engine_version;
  result.provenance.model_version = model_version;
  result.provenance.compiler = "g++ " __VERSION__;
  result.provenance.processor_path = signature::processor_path();
  result.provenance.planar_error = study.sensor.planar_error();
  return result;
}

void add_figures(const Study::Prepared& study, const Tally& tally, Intervals intervals, Result& result) {
  result.unsolved = tally.unsolved;
  result.first_unsolved = tally.first_unsolved;
  const std::uint64_t solved = tally.pieces - tally.unsolved;
  for (std::size_t c = 0; c < result.channels.size(); ++c) {
    result.channels[c].coin = spread_of(tally.coin[c], 0.0, intervals);
    result.channels[c].reading = spread_of(tally.reading[c], step_of(study.model.sensor.channels[c]), intervals);
    result.channels[c].undefined = tally.reading[c].without_value - tally.unsolved;
  }
  for (std::size_t w = 0; w < result.windows.size(); ++w) {
    WindowSetResult& set = result.windows[w];
    set.accepted = proportion(tally.windows[w].accepted, tally.pieces, tally.unsolved, intervals);
    std::uint64_t most = 0;
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      const CriterionTally& from = tally.windows[w].criteria[c];
      CriterionResult& to = set.criteria[c];
      const std::uint64_t rejected = from.low + from.high + from.undefined;
      to.accepted = proportion(solved - rejected, tally.pieces, tally.unsolved, intervals);
      to.rejected_low = proportion(from.low, tally.pieces, tally.unsolved, intervals);
      to.rejected_high = proportion(from.high, tally.pieces, tally.unsolved, intervals);
      to.rejected_only_here = proportion(from.only_here, tally.pieces, tally.unsolved, intervals);
      to.undefined = from.undefined;
      if (!to.channel) to.reading = spread_of(tally.relations[study.relation_of[w][c]], 0.0, intervals);
      if (rejected > most) {
        most = rejected;
        set.worst = c;
      }
    }
  }
  std::size_t position = 0;
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    const Input& input = study.model.inputs[i];
    if (input.components.empty() || !input.tolerance.bounded()) continue;
    result.inputs[i].out_of_tolerance = proportion(tally.out_of_tolerance[position++], tally.pieces, 0, intervals);
  }
}

void add_replicate_intervals(std::vector<Result>& replicates, Result& result) {
  constexpr double least_pieces = 200.0;
  const auto values = values_over(replicates);
  std::uint64_t pieces = 0;
  if (!result.channels.empty()) pieces = result.channels.front().reading.pieces + result.channels.front().undefined;
  std::size_t position = 0;
  for_each_figure(result, [&](Figure& figure, Kind kind) {
    const auto& of = values[position++];
    const double rarer = std::min(figure.value, 1.0 - figure.value) * static_cast<double>(pieces);
    if (!figure.interval || (kind == Kind::fraction && rarer < least_pieces)) return;
    statistics::Moments moments;
    moments.add(of);
    const auto about_mean = statistics::mean_interval(moments, confidence);
    const double half = 0.5 * (about_mean.upper - about_mean.lower);
    figure.interval = Interval{figure.value - half, figure.value + half};
    if (kind == Kind::fraction) {
      figure.interval->lower = std::max(0.0, figure.interval->lower);
      figure.interval->upper = std::min(1.0, figure.interval->upper);
    }
  });
  const std::string replicate = "t over " + std::to_string(replicates.size()) + " replicates";
  result.methods = {replicate + "; Clopper-Pearson below 200 pieces of the rarer kind", replicate, replicate,
                    replicate};
}

void add_bands(std::vector<Result>& outer, Result& result) {
  if (outer.empty()) return;
  const auto values = values_over(outer);
  std::size_t position = 0;
  for_each_figure(result, [&](Figure& figure, Kind) {
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
