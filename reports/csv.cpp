#include "reports/csv.hpp"

#include <cmath>
#include <string_view>

#include "reports/budget_words.hpp"
#include "reports/csv_field.hpp"
#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

class Lines {
 public:
  explicit Lines(std::string_view coin) : coin_(csv_text(coin)) {
    text_ = "coin,subject kind,subject,figure,value,lower,upper,band lower,band upper,unit,note\r\n";
  }

  void about(std::string_view kind, std::string_view subject, std::string_view note = {}) {
    subject_ = csv_text(kind) + "," + csv_text(subject);
    note_ = csv_text(note);
  }

  void add(std::string_view figure, const Figure& f, std::string_view unit) {
    text_ += coin_ + "," + subject_ + "," + csv_text(figure) + "," + csv_number(f.value) + ",";
    text_ += (f.interval ? csv_number(f.interval->lower) + "," + csv_number(f.interval->upper) : ",") + ",";
    text_ += (f.band ? csv_number(f.band->lower) + "," + csv_number(f.band->upper) : ",") + ",";
    text_ += csv_text(unit) + "," + note_ + "\r\n";
  }
  void add(std::string_view figure, double value, std::string_view unit) { add(figure, Figure{value, {}, {}}, unit); }
  void add_count(std::string_view figure, std::uint64_t value, std::string_view unit) {
    text_ += coin_ + "," + subject_ + "," + csv_text(figure) + "," + std::to_string(value) + ",,,,," + csv_text(unit) +
             "," + note_ + "\r\n";
  }

  std::string take() { return std::move(text_); }

 private:
  std::string coin_, subject_, note_, text_;
};

void add_spread(Lines& lines, std::string_view whose, const Spread& s, std::string_view unit) {
  const std::string prefix = std::string(whose) + " ";
  lines.add(prefix + "mean", s.mean, unit);
  lines.add(prefix + "sd", s.sd, unit);
  lines.add(prefix + "median", s.median, unit);
  for (const auto& q : s.quantiles)
    lines.add(prefix + "quantile " + significant(100 * q.probability) + " %", q.figure, unit);
  lines.add(prefix + "smallest", s.smallest, unit);
  lines.add(prefix + "largest", s.largest, unit);
  lines.add(prefix + "quantile resolution", s.resolution, unit);
  lines.add_count(prefix + "pieces", s.pieces, "pieces");
}

std::string joined(const std::vector<std::string>& parts) {
  std::string text;
  for (const auto& part : parts) text += (text.empty() ? "" : "; ") + part;
  return text;
}

void add_windows(Lines& lines, const Result& result) {
  for (const auto& set : result.windows) {
    lines.about("machine class", set.machine_class);
    lines.add("accepted", set.accepted, "1");
    for (const auto& c : set.criteria) {
      const std::string note = c.channel ? joined(result.channels.at(*c.channel).marks) : c.expression;
      lines.about(c.relation ? "relation" : "window", set.machine_class + ": " + c.name, note);
      lines.add("lower limit", c.lower, c.unit);
      lines.add("upper limit", c.upper, c.unit);
      lines.add("nominal", c.nominal, c.unit);
      lines.add("accepted", c.accepted, "1");
      lines.add("rejected low", c.rejected_low, "1");
      lines.add("rejected high", c.rejected_high, "1");
      lines.add("rejected", c.rejected, "1");
      lines.add("rejected only here", c.rejected_only_here, "1");
      lines.add_count("undefined", c.undefined, "pieces");
      if (c.reading) add_spread(lines, "reading", *c.reading, c.unit);
    }
  }
}

void add_correlations(Lines& lines, const Result& result) {
  if (!result.joint) return;
  for (const auto& pair : result.joint->correlations) {
    lines.about("correlation", result.channels.at(pair.first).name + " and " + result.channels.at(pair.second).name);
    lines.add("of readings", pair.figure, "1");
  }
}

void add_inputs(Lines& lines, const Result& result) {
  for (const auto& i : result.inputs) {
    lines.about("input", i.path, i.understood);
    lines.add("nominal", i.unit.from_si(i.nominal), i.unit.name);
    lines.add("mean", i.unit.from_si(i.mean), i.unit.name);
    lines.add("sd", i.unit.spread_from_si(i.sd), i.unit.name);
    if (i.out_of_tolerance) lines.add("out of tolerance", *i.out_of_tolerance, "1");
  }
}

Figure scaled(const Figure& figure, double scale) {
  Figure to{scale * figure.value, {}, {}};
  if (figure.interval) to.interval = Interval{scale * figure.interval->lower, scale * figure.interval->upper};
  if (figure.band) to.band = Band{scale * figure.band->lower, scale * figure.band->upper};
  return to;
}

void add_budgets(Lines& lines, const Result& result) {
  for (const auto& channel : result.channels) {
    if (channel.budget) {
      for (const auto& entry : channel.budget->entries) {
        const InputResult& input = result.inputs.at(entry.input);
        const std::string per = channel.unit + " per " + (input.unit.name.empty() ? "1" : input.unit.name);
        lines.about("budget", channel.name + ": " + input.path, input.level + "; " + input.basis);
        lines.add("spread", input.unit.spread_from_si(entry.spread), input.unit.name);
        lines.add("sensitivity", scaled(entry.sensitivity, input.unit.scale), per);
        lines.add("contribution", entry.contribution, channel.unit);
        lines.add("tolerance effect", entry.tolerance_effect, channel.unit);
      }
      lines.about("budget", channel.name);
      lines.add("worst case", channel.budget->worst_case, channel.unit);
      lines.add("root sum of squares", channel.budget->root_sum_square, channel.unit);
    }
    for (const auto& share : channel.shares) {
      lines.about("share of variance", channel.name + ": " + share.name, "by " + kind_word(share.kind));
      lines.add("alone", share.first_order, "1");
      lines.add("with interactions", share.total, "1");
    }
  }
}

void add_window_use(Lines& lines, const Result& result) {
  for (const auto& set : result.windows) {
    for (const auto& criterion : set.criteria) {
      if (!criterion.use) continue;
      lines.about("window use", set.machine_class + ": " + criterion.name);
      lines.add("half width", criterion.use->half_width, criterion.unit);
      lines.add("off centre", criterion.use->off_centre, criterion.unit);
      for (const auto& level : criterion.use->levels) lines.add("level " + level.name, level.part, criterion.unit);
      lines.add("not known", criterion.use->not_known, criterion.unit);
      lines.add("left", criterion.use->left, criterion.unit);
    }
  }
}

void add_yield(Lines& lines, const Result& result) {
  if (!result.yield) return;
  const YieldResult& yield = *result.yield;
  lines.about("sorts", "whole");
  lines.add_count("pieces started", yield.started, "pieces");
  lines.add_count("pieces finished", yield.finished_pieces, "pieces");
  lines.add("finished", yield.finished, "1");
  for (const auto& sort : yield.sorts) {
    lines.about("sort", sort.name, sort.reads);
    lines.add("lower limit", sort.lower, sort.unit);
    lines.add("upper limit", sort.upper, sort.unit);
    lines.add("out at first", sort.out, "1");
    lines.add("reworks for a piece", sort.reworked, "1");
    lines.add("scrapped", sort.scrapped, "1");
  }
  for (const auto& metal : yield.metals) {
    lines.about("metal", metal.bath, metal.metal);
    lines.add("mass for a million finished pieces", metal.mass, "kg");
    for (std::size_t w = 0; w < metal.accepted.size(); ++w)
      lines.add("mass for a million accepted by " + result.windows[w].machine_class, metal.accepted[w], "kg");
  }
}

void add_stages(Lines& lines, const Result& result) {
  if (!result.stages) return;
  for (const auto& stage : result.stages->quantities) {
    const std::string name = stage.name + ": " + stage.reads;
    for (std::size_t c = 0; c < stage.correlations.size(); ++c) {
      lines.about("stage", name + " and " + result.channels.at(c).name, result.stages->method);
      lines.add("correlation", stage.correlations[c], "1");
    }
    const auto add_where = [&](const std::string& what, const StageWindow& window, const AcceptedWhere& where) {
      lines.about("stage", name + ": " + window.machine_class, what);
      lines.add("from", where.lower, stage.unit);
      lines.add("to", where.upper, stage.unit);
      lines.add("finished pieces", where.pieces, "1");
      lines.add("accepted of these", where.accepted, "1");
    };
    for (const auto& window : stage.windows) {
      for (std::size_t c = 0; c < window.cells.size(); ++c)
        add_where("cell " + std::to_string(c + 1), window, window.cells[c]);
      if (window.secures)
        add_where("secures >= " + significant(100.0 * *window.at_least) + " %", window, *window.secures);
    }
  }
}

void add_lots(Lines& lines, const Result& result) {
  if (!result.lots) return;
  const LotResult& lots = *result.lots;
  for (const auto& window : lots.windows) {
    lines.about("lots", window.machine_class, lots.lot + (lots.load.empty() ? "" : " by " + lots.load));
    lines.add("mean rejected", window.mean_rejected, "1");
    for (const auto& q : window.rejected)
      lines.add("rejected fraction quantile " + significant(100 * q.probability) + " %", q.figure, "1");
    for (const auto& chance : window.chances)
      lines.add("chance of more than " + significant(100 * chance.rate) + " % rejected", chance.chance, "1");
  }
  for (const auto& channel : lots.channels) {
    lines.about("lots", channel.name, lots.lot);
    for (const auto& component : channel.components) lines.add("sd of level " + component.name, component.sd, "");
  }
  lines.about("lots", "whole", lots.lot);
  lines.add_count("lots", lots.lots, "lots");
  lines.add_count("pieces a lot", lots.pieces_a_lot, "pieces");
}

void add_nominal(Lines& lines, const NominalCoin& coin) {
  lines.about("nominal coin", "whole");
  lines.add("diameter", coin.diameter, "m");
  lines.add("thickness rim to rim", coin.thickness, "m");
  lines.add("field thickness", coin.field_thickness, "m");
  lines.add("rim width", coin.rim_width, "m");
  lines.add("rim height up", coin.rim_height_up, "m");
  lines.add("rim height down", coin.rim_height_down, "m");
  lines.add("mass", coin.mass, "kg");
  for (std::size_t i = 0; i < coin.layers.size(); ++i) {
    const auto& layer = coin.layers[i];
    lines.about("nominal layer", std::to_string(i + 1) + " " + layer.name, layer.metal);
    lines.add("thickness", layer.thickness, "m");
    if (!layer.core) lines.add("rim thickness", layer.rim_thickness, "m");
    lines.add("conductivity", layer.conductivity, "S/m");
    lines.add("relative permeability", layer.permeability, "1");
  }
  for (const auto& row : coin.impedances) {
    lines.about("nominal impedance", row.coils + " at " + with_prefix(row.frequency, "Hz", 9),
                row.through ? "total mutual impedance" : "change against air");
    lines.add("resistance", row.resistance, "ohm");
    lines.add("reactance", row.reactance, "ohm");
    if (row.through) continue;
    lines.add("normalised resistance", row.normalised_resistance, "1");
    lines.add("normalised reactance", row.normalised_reactance, "1");
  }
  for (const auto& row : coin.decays) {
    lines.about("nominal decay gate", row.coils + " at " + with_prefix(row.time, "s", 9),
                "width " + with_prefix(row.width, "s", 9) + ", ramp " + with_prefix(row.ramp, "s", 9));
    lines.add("voltage", row.voltage, "V");
  }
}

}  // namespace

std::string result_csv(const Result& result) {
  Lines lines(result.coin);
  for (const auto& channel : result.channels) {
    lines.about("channel", channel.name, joined(channel.marks));
    lines.add("nominal", channel.nominal, channel.unit);
    if (channel.model_error > 0.0) lines.add("model error", channel.model_error, channel.unit);
    add_spread(lines, "reading", channel.reading, channel.unit);
    add_spread(lines, "coin", channel.coin, channel.unit);
    lines.add_count("undefined", channel.undefined, "pieces");
  }
  add_windows(lines, result);
  for (const auto& target : result.targets) {
    lines.about("target", target.text, target.decided ? (target.met ? "met" : "missed") : "undecided");
    lines.add("accepted", target.figure, "1");
  }
  if (result.precision) {
    lines.about("precision", result.precision->figure, result.precision->met ? "met" : "missed");
    lines.add("wanted", result.precision->wanted, result.precision->unit);
    lines.add("reached", result.precision->reached, result.precision->unit);
  }
  add_correlations(lines, result);
  add_window_use(lines, result);
  add_budgets(lines, result);
  add_yield(lines, result);
  add_stages(lines, result);
  add_lots(lines, result);
  add_nominal(lines, result.nominal);
  add_inputs(lines, result);
  lines.about("run", "whole", result.provenance.specification_hash);
  lines.add_count("pieces", result.provenance.pieces, "pieces");
  lines.add_count("unsolved", result.unsolved, "pieces");
  if (result.provenance.disc_solutions > 0) lines.add_count("outside", result.outside, "pieces");
  lines.add_count("seed", result.provenance.seed, "1");
  return lines.take();
}

}  // namespace mintspread::reports
