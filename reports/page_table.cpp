#include "reports/page_table.hpp"

#include <algorithm>
#include <cmath>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

Cell words(std::string text) { return {{std::move(text), ""}}; }

Row count_row(const std::string& label, std::uint64_t pieces, std::size_t cells) {
  Row row{label, std::vector<Cell>(cells)};
  row.cells[0] = {{count(pieces, "\u202f"), std::to_string(pieces)}};
  return row;
}

std::vector<std::string> columns(bool bands) {
  std::vector<std::string> list{"figure", "value", "95 % interval"};
  if (bands) list.emplace_back("not known");
  return list;
}

bool has_bands(const Spread& spread) { return spread.mean.band.has_value(); }

// The nominal value is computed, not sampled: it has the error of its model, or stands as the specification has it.
Cell nominal_error(const Subject& subject) {
  if (subject.channel == nullptr) return {{"not sampled", ""}};
  const double error = subject.channel->model_error;
  if (error > 0.0) return {{"± ", ""}, number(significant(error, 2), error), {" of the model", ""}};
  return {{subject.channel->model == "dimension" ? "as stated" : "not sampled", ""}};
}

RowGroup spread_group(const std::string& heading, const Spread& spread, const Subject& subject, bool bands) {
  RowGroup group{heading, {}};
  const double nominal = subject.nominal;
  Row row{"nominal", std::vector<Cell>(bands ? 3 : 2)};
  row.cells[0] = {
      number(spread.mean.interval ? fixed(nominal, told(spread.mean).places) : significant(nominal), nominal)};
  row.cells[1] = nominal_error(subject);
  group.rows.push_back(row);
  group.rows.push_back(figure_row("mean", spread.mean, bands));
  group.rows.push_back(figure_row("standard deviation", spread.sd, bands));
  group.rows.push_back(figure_row("median", spread.median, bands));
  for (const auto& q : spread.quantiles) {
    group.rows.push_back(figure_row(significant(100 * q.probability) + " % quantile", q.figure, bands));
  }
  return group;
}

// A figure in SI with the prefix that suits its value: "12.31 mΩ".
Row prefixed_row(const std::string& label, const Figure& figure, const std::string& unit) {
  const double scale = prefix_scale(figure.value);
  Figure scaled{figure.value / scale, {}, {}};
  if (figure.interval) scaled.interval = Interval{figure.interval->lower / scale, figure.interval->upper / scale};
  const Told text = told(scaled);
  const std::string with = typeset(with_prefix(scale, unit)).substr(1);  // " mΩ" of "1 mΩ"
  Row row{label, {{number(text.value + with, figure.value)}, {}}};
  if (figure.interval) {
    row.cells[1] = {number(text.lower + with, figure.interval->lower),
                    {" to ", ""},
                    number(text.upper + with, figure.interval->upper)};
  }
  return row;
}

std::string in_unit(const std::string& unit) { return unit.empty() ? "" : ", in " + typeset(unit); }

}  // namespace

Part number(std::string text, double value) { return {std::move(text), std::isfinite(value) ? carried(value) : ""}; }

// value | interval | band, the last only in tables that have bands.
Row figure_row(const std::string& label, const Figure& figure, bool bands) {
  const Told text = told(figure);
  Row row{label, {{number(text.value, figure.value)}, {}, {}}};
  if (figure.interval) {
    row.cells[1] = {
        number(text.lower, figure.interval->lower), {" to ", ""}, number(text.upper, figure.interval->upper)};
  }
  if (figure.band)
    row.cells[2] = {
        number(text.band_lower, figure.band->lower), {" to ", ""}, number(text.band_upper, figure.band->upper)};
  if (!bands) row.cells.pop_back();
  return row;
}

Row percent_row(const std::string& label, const Figure& fraction, bool bands) {
  const Told text = told_percent(fraction);
  Row row{label, {{number(percent(text), fraction.value)}, {}, {}}};
  if (fraction.interval) {
    row.cells[1] = {number(with_percent(text.lower), fraction.interval->lower),
                    {" to ", ""},
                    number(with_percent(text.upper), fraction.interval->upper)};
  }
  if (fraction.band) {
    row.cells[2] = {number(with_percent(text.band_lower), fraction.band->lower)};
    if (text.band_lower != text.band_upper) {
      row.cells[2].push_back({" to ", ""});
      row.cells[2].push_back(number(with_percent(text.band_upper), fraction.band->upper));
    }
  }
  if (!bands) row.cells.pop_back();
  return row;
}

PageTable losses_table(const Result& result) {
  const bool bands = std::any_of(result.windows.begin(), result.windows.end(),
                                 [](const auto& set) { return set.accepted.band.has_value(); });
  PageTable table{"Rejected, per machine class and per criterion alone", columns(bands), {}, false};
  for (const auto& set : result.windows) {
    RowGroup group{set.machine_class, {percent_row("accepted by every criterion", set.accepted, bands)}};
    for (const auto& criterion : set.criteria) {
      const bool marked = !marks_of(result, criterion).empty();
      group.rows.push_back(
          percent_row("rejected by " + criterion.name + (marked ? " (marked)" : ""), criterion.rejected, bands));
    }
    table.groups.push_back(group);
  }
  return table;
}

PageTable subject_table(const Result& result, const Subject& subject) {
  const bool bands = (subject.reading != nullptr && has_bands(*subject.reading)) ||
                     std::any_of(subject.windows.begin(), subject.windows.end(), [&](const Window& w) {
                       return result.windows[w.set].criteria[w.criterion].accepted.band.has_value();
                     });
  PageTable table{"Figures of " + subject.name, columns(bands), {}, false};
  if (subject.reading != nullptr && subject.reading->pieces > 0) {
    table.groups.push_back(spread_group("Reading" + in_unit(subject.unit), *subject.reading, subject, bands));
    if (subject.channel != nullptr && subject.channel->undefined > 0) {
      table.groups.back().rows.push_back(
          count_row("pieces without a value", subject.channel->undefined, bands ? 3 : 2));
    }
  }
  if (subject.channel != nullptr && subject.channel->coin.pieces > 0) {
    RowGroup group{"Coin alone" + in_unit(subject.unit), {}};
    group.rows.push_back(figure_row("mean", subject.channel->coin.mean, bands));
    group.rows.push_back(figure_row("standard deviation", subject.channel->coin.sd, bands));
    table.groups.push_back(group);
  }
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    const auto& criterion = set.criteria[window.criterion];
    RowGroup group{"Window of " + set.machine_class + ": " + window_words(criterion), {}};
    group.rows.push_back(percent_row("accepted", criterion.accepted, bands));
    group.rows.push_back(percent_row("too low", criterion.rejected_low, bands));
    group.rows.push_back(percent_row("too high", criterion.rejected_high, bands));
    group.rows.push_back(percent_row("rejected here only", criterion.rejected_only_here, bands));
    if (criterion.undefined > 0)
      group.rows.push_back(count_row("pieces without a value", criterion.undefined, bands ? 3 : 2));
    table.groups.push_back(group);
  }
  return table;
}

PageTable pair_table(const Result& result, const ChannelPair& pair) {
  const auto& set = result.windows[pair.set];
  const Figure* correlation = nullptr;
  for (const auto& one : result.joint->correlations) {
    if (std::minmax(one.first, one.second) == std::minmax(pair.across, pair.up)) correlation = &one.figure;
  }
  const auto& across = result.channels[pair.across];
  const auto& up = result.channels[pair.up];
  const bool bands = set.accepted.band.has_value() || (correlation != nullptr && correlation->band.has_value());
  PageTable table{"Figures of " + across.name + " and " + up.name + " together", columns(bands), {}, false};
  RowGroup readings{"Readings", {}};
  if (correlation != nullptr) readings.rows.push_back(figure_row("correlation", *correlation, bands));
  for (const ChannelResult* channel : {&across, &up}) {
    const std::string of = channel->name + in_unit(channel->unit);
    readings.rows.push_back(figure_row("mean of " + of, channel->reading.mean, bands));
    readings.rows.push_back(figure_row("standard deviation of " + of, channel->reading.sd, bands));
  }
  table.groups.push_back(readings);
  for (std::size_t c = 0; c < set.criteria.size(); ++c) {
    if (!belongs(result, pair, c)) continue;
    const auto& criterion = set.criteria[c];
    RowGroup group{set.machine_class + ", " + criterion.name + ": " + window_words(criterion), {}};
    group.rows.push_back(percent_row("accepted", criterion.accepted, bands));
    group.rows.push_back(percent_row("rejected here only", criterion.rejected_only_here, bands));
    table.groups.push_back(group);
  }
  return table;
}

PageTable section_table_of(const NominalCoin& coin) {
  PageTable table{
      "Layers of the nominal coin, upper face to lower, exact as the specification makes them: what spreads stands "
      "under the quantities as they were understood; relative permeability µ",
      {"layer", "face", "rim", "conductivity", "µ"},
      {},
      false};
  RowGroup group{"", {}};
  for (const auto& layer : coin.layers) {
    Row row{layer.name == layer.metal ? layer.name : layer.name + " (" + layer.metal + ")", {}};
    row.cells.push_back({number(typeset(length(layer.thickness)), layer.thickness)});
    row.cells.push_back(layer.core || !(layer.rim_thickness > 0.0)
                            ? Cell{}
                            : Cell{number(typeset(length(layer.rim_thickness)), layer.rim_thickness)});
    row.cells.push_back({number(significant(layer.conductivity / 1e6, 4) + " MS/m", layer.conductivity)});
    row.cells.push_back({number(significant(layer.permeability, 4), layer.permeability)});
    group.rows.push_back(row);
  }
  table.groups.push_back(group);
  return table;
}

PageTable impedance_table(const Result& result) {
  const NominalCoin& coin = result.nominal;
  PageTable table{
      "Nominal impedance: resistive part R, reactive part X", {"coils", "R", "X", "R / X0", "X / X0"}, {}, false};
  if (result.provenance.disc_solutions > 0)
    table.caption += "; corrected for the coin's finite size, which leaves the error that stands with each channel";
  else if (result.provenance.planar_error > 0.0)
    table.caption += "; computed to within " + significant(result.provenance.planar_error, 2) + " of its magnitude";
  RowGroup change{"Change against air", {}}, total{"Through the coin, in total", {}};
  for (const auto& row : coin.impedances) {
    Row cells{row.coils + ", " + with_prefix(row.frequency, "Hz"), {}};
    cells.cells.push_back({number(typeset(with_prefix(row.resistance, "ohm", 5)), row.resistance)});
    cells.cells.push_back({number(typeset(with_prefix(row.reactance, "ohm", 5)), row.reactance)});
    if (row.through) {
      cells.cells.resize(4);
    } else {
      cells.cells.push_back({number(significant(row.normalised_resistance, 5), row.normalised_resistance)});
      cells.cells.push_back({number(significant(row.normalised_reactance, 5), row.normalised_reactance)});
    }
    (row.through ? total : change).rows.push_back(cells);
  }
  for (const auto& group : {change, total}) {
    if (!group.rows.empty()) table.groups.push_back(group);
  }
  return table;
}

PageTable impedance_spread_table(const NominalCoin& coin) {
  PageTable table{"Spread of the impedance over production", {"figure", "value", "95 % interval"}, {}, false};
  for (const auto& row : coin.impedances) {
    if (!row.spread) continue;
    const auto& s = *row.spread;
    RowGroup group{row.coils + ", " + with_prefix(row.frequency, "Hz"), {}};
    group.rows.push_back(prefixed_row("mean of R", s.resistance, "ohm"));
    group.rows.push_back(prefixed_row("mean of X", s.reactance, "ohm"));
    group.rows.push_back(prefixed_row("standard deviation of R", s.sd_resistance, "ohm"));
    group.rows.push_back(prefixed_row("standard deviation of X", s.sd_reactance, "ohm"));
    group.rows.push_back(figure_row("correlation of R and X", s.correlation, false));
    table.groups.push_back(group);
  }
  return table;
}

PageTable decay_spread_table(const NominalCoin& coin) {
  PageTable table{"Spread of the decay over production", {"figure", "value", "95 % interval"}, {}, false};
  for (const auto& row : coin.decays) {
    if (!row.mean || !row.sd) continue;
    table.groups.push_back({row.coils + ", " + typeset(with_prefix(row.time, "s")),
                            {prefixed_row("mean", *row.mean, "V"), prefixed_row("standard deviation", *row.sd, "V")}});
  }
  return table;
}

PageTable decay_table(const NominalCoin& coin) {
  PageTable table{"Nominal decay gates: times as stated, voltages computed and not sampled",
                  {"coils", "time", "width", "ramp", "voltage"},
                  {},
                  false};
  RowGroup group{"", {}};
  for (const auto& row : coin.decays) {
    group.rows.push_back({row.coils,
                          {{number(typeset(with_prefix(row.time, "s")), row.time)},
                           {number(typeset(with_prefix(row.width, "s")), row.width)},
                           {number(typeset(with_prefix(row.ramp, "s")), row.ramp)},
                           {number(typeset(with_prefix(row.voltage, "V", 5)), row.voltage)}}});
  }
  table.groups.push_back(group);
  return table;
}

PageTable inputs_table(const Result& result) {
  PageTable table{"Every quantity as it was understood", {"quantity", "as understood", "varies by", "basis"}, {}, true};
  for (const auto& input : result.inputs) {
    const auto same = [&](const RowGroup& group) { return group.heading == input.step; };
    auto group = std::find_if(table.groups.begin(), table.groups.end(), same);
    if (group == table.groups.end()) group = table.groups.insert(table.groups.end(), {input.step, {}});
    const std::string varies = input.spread ? input.level : input.known_to ? "not known" : "exact";
    std::string name = path_in_step(input);
    std::replace(name.begin(), name.end(), '.', ' ');  // a column of a telephone's width breaks lines at blanks only
    group->rows.push_back({name, {words(input.understood), words(varies), words(input.basis)}});
  }
  return table;
}

}  // namespace mintspread::reports
