#include <algorithm>

#include "reports/figure_pair.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/page_content.hpp"
#include "reports/stages.hpp"
#include "reports/words.hpp"
#include "reports/yield.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr double nearly_all = 0.95;

std::string lead_of(const Result& result, const Subject& subject) {
  if (subject.windows.empty()) {
    return std::string("No window uses this channel.") +
           (subject.channel->shares.empty() ? "" : " Its shares of variance stand in the JSON and CSV files.");
  }
  std::string text;
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    const auto& criterion = set.criteria[window.criterion];
    if (!text.empty()) text += " ";
    text += set.machine_class + " rejects " + percent_words(told_percent(criterion.rejected)) + " here.";
  }
  return text;
}

PageFigure subject_figure(const Result& result, const Subject& subject, const std::string& id) {
  PageFigure figure{id, subject_title(subject), lead_of(result, subject), subject.marks, {}};
  if (subject.channel == nullptr) {
    figure.heading = subject.name + ", relation of " + result.windows[subject.windows.front().set].machine_class +
                     ": " + subject.kind;
  }
  const auto add = [&](std::string drawing, const std::string& caption, PageTable table) {
    if (!drawing.empty()) figure.panels.push_back({std::move(drawing), caption, std::move(table)});
  };
  add(draw_distribution(result, subject, id + "-f"), distribution_caption(subject), subject_table(result, subject));
  if (figure.panels.empty()) return figure;
  add(draw_window_use(result, subject, id + "-u"),
      "Half of each window from its middle to the bracket's end. Hatched: off centre; then three standard deviations "
      "shared by level; "
      "stippled: not known.",
      window_use_table(result, subject));
  if (subject.channel == nullptr) return figure;
  add(draw_budget(result, *subject.channel, id + "-b"),
      "Standard deviation caused" + (subject.unit.empty() ? "" : ", in " + typeset(subject.unit)) +
          ". Thin: its range over what is not known. The arrow says which way the reading goes when the quantity "
          "grows.",
      budget_table(result, *subject.channel));
  if (subject.windows.empty()) return figure;
  add(draw_shares(*subject.channel, id + "-v"),
      "Per cent of the variance. Diamond: alone; dot and line: with interactions and its 95 % interval.",
      shares_table(*subject.channel));
  return figure;
}

std::vector<PageFigure> figures(const Result& result) {
  std::vector<PageFigure> list;
  const auto add = [&](const char* id, const char* heading, std::string drawing, const char* caption, PageTable table) {
    if (!drawing.empty()) list.push_back({id, heading, "", {}, {{std::move(drawing), caption, std::move(table)}}});
  };
  add("losses", "What rejects", draw_losses(result, "losses-f"),
      "Dot and line: fraction rejected by one criterion alone and its 95 % interval. Stippled: what is not known. A "
      "line that begins at the "
      "edge: none seen, up to the stop.",
      losses_table(result));
  std::size_t position = 0;
  for (const auto& subject : subjects(result)) {
    PageFigure figure = subject_figure(result, subject, "s" + std::to_string(++position));
    if (!figure.panels.empty()) list.push_back(std::move(figure));
  }
  if (const auto pairs = told_pairs(result); !pairs.empty()) {
    PageFigure figure{"pairs", "Pairs of channels", "", {}, {}};
    figure.lead = "Intervals of correlations: " + result.joint->method + ".";
    for (const auto& pair : pairs) {
      figure.panels.push_back({draw_pair(result, pair, "pairs-" + std::to_string(figure.panels.size() + 1)),
                               pair_caption(result, pair), pair_table(result, pair)});
    }
    list.push_back(std::move(figure));
  }
  if (result.yield) list.push_back({"yield", "Sorts in the route", "", {}, {{"", "", yield_table(result)}}});
  if (result.stages && !result.stages->quantities.empty()) {
    PageFigure figure{"stages", "Readings on the way and the finished coin", "", {}, {{"", "", stages_table(result)}}};
    figure.lead = "Of finished pieces. Intervals of correlations: " + result.stages->method + ".";
    list.push_back(std::move(figure));
  }
  if (result.lots) {
    PageFigure figure{
        "lots", "Lots", "", {}, {{"", "", lots_table(*result.lots)}, {"", "", lot_components_table(*result.lots)}}};
    figure.lead = count(result.lots->lots, "\u202f") + " times " + result.lots->lot + ", " +
                  count(result.lots->pieces_a_lot, "\u202f") + " pieces looked at in each" +
                  (result.lots->load.empty() ? "" : ", by " + result.lots->load) +
                  ". Intervals count lots, not pieces.";
    const bool hopeless = !result.lots->windows.empty() &&
                          std::all_of(result.lots->windows.begin(), result.lots->windows.end(),
                                      [](const auto& window) { return window.mean_rejected.value > nearly_all; });
    if (hopeless) figure.lead += " Nearly every piece of every lot is rejected: see what rejects it first.";
    list.push_back(std::move(figure));
  }
  add("section", "The coin's section", draw_section(result.nominal, "section-f"),
      "The whole coin to scale; the plating at the rim to its own scale, hatched by metal.",
      section_table_of(result.nominal));
  const auto with_spread = [&](const char* id, PageTable table) {
    if (!table.groups.empty() && !list.empty() && list.back().id == id)
      list.back().panels.push_back({"", "", std::move(table)});
  };
  add("impedance", "Impedance over frequency", draw_impedance(result.nominal, "impedance-f"),
      "Dots: change of the nominal coin against air over the drive coil's reactance in air, X0. Ellipses: 95 % of "
      "production, conditions as drawn, before noise.",
      impedance_table(result));
  with_spread("impedance", impedance_spread_table(result.nominal));
  add("decay", "Decay after the drive current falls", draw_decay(result.nominal, "decay-f"),
      "Each bar is a gate of its width at the nominal coin; lines join the gates of one pair of coils. Upright: three "
      "standard deviations of production to either side, conditions as drawn, before noise.",
      decay_table(result.nominal));
  with_spread("decay", decay_spread_table(result.nominal));
  if (!result.inputs.empty())
    list.push_back({"inputs", "Quantities as they were understood", "", {}, {{"", "", inputs_table(result)}}});
  return list;
}

std::vector<std::string> rests_on(const Result& result) {
  std::vector<std::string> list;
  const auto& p = result.provenance;
  const Included what = included(result);
  list.push_back(count(p.pieces, "\u202f") + " computed pieces, " + p.design + ".");
  list.push_back("A reading includes " + what.reading + ".");
  list.push_back("The coin alone includes " + what.coin + ".");
  for (const auto& sentence : model_words(result)) list.push_back(sentence);
  for (const auto& [basis, inputs] : inputs_by_basis(result)) {
    std::string text =
        basis + ": " + std::to_string(inputs.size()) + (inputs.size() == 1 ? " quantity" : " quantities");
    std::vector<std::string> names;
    for (const auto* input : inputs) names.push_back(input->path);
    list.push_back(text + " (" + some_of(names) + ").");
  }
  std::vector<std::string> unknown;
  for (const auto* input : unknown_inputs(result)) unknown.push_back(input->path);
  if (!unknown.empty()) {
    list.push_back("Fixed but not known, told as a band over " + count(p.outer_draws, "\u202f") +
                   " draws: " + some_of(unknown) + ".");
  }
  list.push_back("Intervals of 95 % are the sampling error alone: " + method_words(result) + ".");
  return list;
}

std::vector<std::pair<std::string, std::string>> record(const Result& result, Times times) {
  const auto& p = result.provenance;
  std::vector<std::pair<std::string, std::string>> list;
  const auto add = [&](const char* name, const std::string& text) {
    if (!text.empty()) list.emplace_back(name, text);
  };
  add("Coin", result.coin);
  add("Construction", result.construction);
  add("Sensor", result.sensor);
  add("Specification", p.specification_file);
  add("SHA-256 of the specification", p.specification_hash);
  add("Seed", std::to_string(p.seed));
  add("Pieces", count(p.pieces, "\u202f") + ", " + p.design);
  if (result.precision) add("Precision", precision_words(result, *result.precision));
  add("Program",
      "mintspread " + p.engine_version + ", " + p.model_version + ", " + p.compiler + ", " + p.processor_path);
  if (p.planar_error > 0.0) add("Largest error found when the quadrature was checked", significant(p.planar_error, 2));
  if (p.disc_solutions > 0) add("Coins solved in their finite size", count(p.disc_solutions, "\u202f"));
  if (result.unsolved > 0) {
    std::string text = count(result.unsolved, "\u202f") + " left out; their indices begin with";
    for (const auto index : result.first_unsolved) text += " " + std::to_string(index);
    add("Pieces that could not be computed", text);
  }
  if (times == Times::keep && p.threads > 0)
    add("Computed in", significant(p.seconds, 3) + " s on " + std::to_string(p.threads) + " threads");
  return list;
}

}  // namespace

std::vector<Verdict> verdicts_of(const Result& result) {
  std::vector<Verdict> list;
  for (const auto& set : result.windows) {
    Verdict one{verdict(result, set), limit(result, set), "", {}, false};
    for (const auto& target : result.targets) {
      if (!(target.figure == set.accepted)) continue;
      one.targets.push_back("\"" + target.text + "\": " + target_word(target) + ".");
      one.less = one.less || !target.met || !target.decided;
    }
    const Told text = told_percent(set.accepted);
    if (!text.band_lower.empty()) {
      one.band = text.band_lower == text.band_upper ? "What is not known does not move it."
                                                    : "What is not known moves it between " + band_words(text) + ".";
    }
    list.push_back(one);
  }
  return list;
}

PageContent engineer_content(const Result& result, Times times) {
  PageContent content;
  content.title = result.coin + ": production spread and acceptance";
  content.coin = result.coin;
  content.what = "Production spread and acceptance" + (result.construction.empty() ? "" : ", " + result.construction) +
                 ", read by " + result.sensor;
  content.note = result.note;
  content.verdicts = verdicts_of(result);
  content.next = next_steps(result, true);
  content.rests = rests_on(result);
  content.uncovered = not_covered(result);
  content.warnings = result.warnings;
  content.figures = figures(result);
  content.record = record(result, times);
  content.cautions = cautions();
  return content;
}

}  // namespace mintspread::reports
