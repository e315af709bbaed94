#include "reports/page.hpp"

#include <algorithm>
#include <cmath>
#include <kainjow/mustache.hpp>
#include <string>
#include <vector>

#include "engine/base/contract.hpp"
#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/page_style.hpp"
#include "reports/page_table.hpp"
#include "reports/svg.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;
using kainjow::mustache::data;

struct PageFigure {
  std::string id, heading, lead;
  std::vector<std::string> marks;
  std::string drawing, caption;
  PageTable table;
};

data list() { return data{data::type::list}; }

data texts(const std::vector<std::string>& sentences) {
  data all = list();
  for (const auto& sentence : sentences) {
    data one;
    one.set("text", sentence);
    all << one;
  }
  return all;
}

data optional_text(const std::string& text) {
  if (text.empty()) return data{false};
  data one;
  one.set("text", text);
  return one;
}

data table_data(const PageTable& table) {
  data to;
  to.set("caption", table.caption);
  to.set("words", data{table.words});
  to.set("columns", texts(table.columns));
  data groups = list();
  for (const auto& group : table.groups) {
    data group_to;
    group_to.set("has_heading", data{!group.heading.empty()});
    group_to.set("heading", group.heading);
    group_to.set("width", std::to_string(table.columns.size()));
    data rows = list();
    for (const auto& row : group.rows) {
      data row_to;
      row_to.set("label", row.label);
      data cells = list();
      for (const auto& cell : row.cells) {
        data parts = list();
        for (const auto& part : cell) {
          data part_to;
          part_to.set("number", data{!part.value.empty()});
          part_to.set("word", data{part.value.empty()});
          part_to.set("value", part.value);
          part_to.set("text", part.text);
          parts << part_to;
        }
        data cell_to;
        cell_to.set("parts", parts);
        cells << cell_to;
      }
      row_to.set("cells", cells);
      rows << row_to;
    }
    group_to.set("rows", rows);
    groups << group_to;
  }
  to.set("groups", groups);
  return to;
}

data figure_data(const PageFigure& figure) {
  data to;
  to.set("id", figure.id);
  to.set("heading", figure.heading);
  to.set("lead", optional_text(figure.lead));
  to.set("has_marks", data{!figure.marks.empty()});
  to.set("marks", texts(figure.marks));
  to.set("has_drawing", data{!figure.drawing.empty()});
  to.set("drawing", figure.drawing);
  to.set("caption", figure.caption);
  to.set("table", table_data(figure.table));
  return to;
}

std::string lead_of(const Result& result, const Subject& subject) {
  if (subject.windows.empty()) return "No window uses this channel.";
  std::string text;
  for (const auto& window : subject.windows) {
    const auto& set = result.windows[window.set];
    const auto& criterion = set.criteria[window.criterion];
    if (!text.empty()) text += " ";
    text += set.machine_class + " rejects " + percent_words(told_percent(complement(criterion.accepted))) + " here.";
  }
  return text;
}

std::string caption_of(const Subject& subject) {
  std::string text =
      "Filled: readings, everything included. Hatched: outside the window that rejects most, drawn heavier among the "
      "brackets.";
  if (subject.channel != nullptr && subject.channel->coin.sd.value > 0.6 * subject.reading->sd.value) {
    text += " Dashed: the coin alone, conditions at nominal, no noise.";
  }
  return text;
}

std::vector<PageFigure> figures(const Result& result, Audience audience) {
  std::vector<PageFigure> list;
  const auto add = [&](PageFigure figure) {
    if (!figure.drawing.empty() || figure.table.words) list.push_back(std::move(figure));
  };
  add({"losses",
       "What rejects",
       "",
       {},
       draw_losses(result, "losses-f"),
       "Dot and line: fraction rejected by one criterion alone and its 95 % interval. Stippled: what is not known. A "
       "line that begins at the "
       "edge: none seen, up to the stop.",
       losses_table(result)});
  std::size_t position = 0;
  for (const auto& subject : subjects(result)) {
    const std::string id = "s" + std::to_string(++position);
    if (subject.reading == nullptr) continue;
    std::string heading = subject_title(subject);
    if (subject.channel == nullptr)
      heading = subject.name + ", relation of " + result.windows[subject.windows.front().set].machine_class + ": " +
                subject.kind;
    add({id, heading, lead_of(result, subject), subject.marks, draw_distribution(result, subject, id + "-f"),
         caption_of(subject), subject_table(result, subject)});
  }
  if (audience == Audience::customer) return list;
  add({"section",
       "The coin's section",
       "",
       {},
       draw_section(result.nominal, "section-f"),
       "The whole coin to scale; the plating at the rim to its own scale, hatched by metal.",
       section_table_of(result.nominal)});
  add({"impedance",
       "Impedance over frequency, nominal coin",
       "",
       {},
       draw_impedance(result.nominal, "impedance-f"),
       "Change against air over the drive coil's reactance in air, X0.",
       impedance_table(result.nominal)});
  add({"decay",
       "Decay after the drive current falls, nominal coin",
       "",
       {},
       draw_decay(result.nominal, "decay-f"),
       "Each bar is a gate of its width. Lines join the gates of one pair of coils.",
       decay_table(result.nominal)});
  add({"inputs", "Quantities as they were understood", "", {}, "", "", inputs_table(result)});
  return list;
}

data verdicts(const Result& result) {
  data all = list();
  for (const auto& set : result.windows) {
    data one;
    one.set("verdict", verdict(result, set));
    one.set("limit", limit(result, set));
    bool less = false;
    std::vector<std::string> targets;
    for (const auto& target : result.targets) {
      if (!(target.figure == set.accepted)) continue;
      targets.push_back("\"" + target.text + "\": " + target_word(target) + ".");
      less = less || !target.met || !target.decided;
    }
    one.set("less", data{less});
    one.set("targets", texts(targets));
    const Told text = told_percent(set.accepted);
    one.set("band", optional_text(
                        text.band_lower.empty() ? "" : "What is not known moves it between " + band_words(text) + "."));
    all << one;
  }
  return all;
}

std::vector<std::string> rests_on(const Result& result, Audience audience) {
  std::vector<std::string> list;
  const auto& p = result.provenance;
  const Included what = included(result);
  list.push_back(count(p.pieces, "\u202f") + " computed pieces, " + p.design + ".");
  list.push_back("A reading includes " + what.reading + ".");
  list.push_back("The coin alone includes " + what.coin + ".");
  for (const auto& [basis, inputs] : inputs_by_basis(result)) {
    std::string text =
        basis + ": " + std::to_string(inputs.size()) + (inputs.size() == 1 ? " quantity" : " quantities");
    if (audience == Audience::engineer) {
      std::vector<std::string> names;
      for (const auto* input : inputs) names.push_back(input->path);
      text += " (" + list_of(names) + ")";
    }
    list.push_back(text + ".");
  }
  std::vector<std::string> unknown;
  for (const auto* input : unknown_inputs(result)) unknown.push_back(input->path);
  if (!unknown.empty() && audience == Audience::engineer) {
    list.push_back("Fixed but not known, told as a band over " + count(p.outer_draws, "\u202f") +
                   " draws: " + list_of(unknown) + ".");
  }
  const auto& m = result.methods;
  list.push_back("Intervals of 95 % are the sampling error alone: fractions " + m.proportion + ", mean " + m.mean +
                 ", standard deviation " + m.sd + ", quantiles " + m.quantile + ".");
  return list;
}

data record(const Result& result, const PageOptions& options) {
  const auto& p = result.provenance;
  data all = list();
  const auto add = [&](const char* name, const std::string& text) {
    if (text.empty()) return;
    data one;
    one.set("name", name);
    one.set("text", text);
    all << one;
  };
  add("Coin", result.coin);
  const bool engineer = options.audience == Audience::engineer;
  if (engineer) add("Construction", result.construction);
  add("Sensor", result.sensor);
  if (engineer) add("Specification", p.specification_file);
  add("SHA-256 of the specification", p.specification_hash);
  add("Seed", std::to_string(p.seed));
  add("Pieces", count(p.pieces, "\u202f") + ", " + p.design);
  add("Program",
      "mintspread " + p.engine_version + ", " + p.model_version + ", " + p.compiler + ", " + p.processor_path);
  if (p.planar_error > 0.0) add("Largest error found when the quadrature was checked", significant(p.planar_error, 2));
  if (result.unsolved > 0) {
    std::string text = count(result.unsolved, "\u202f") + " left out; their indices begin with";
    for (const auto index : result.first_unsolved) text += " " + std::to_string(index);
    add("Pieces that could not be computed", text);
  }
  if (options.times == Times::keep && p.threads > 0)
    add("Computed in", significant(p.seconds, 3) + " s on " + std::to_string(p.threads) + " threads");
  return all;
}

}  // namespace

std::string result_page(const Result& result, const PageOptions& options) {
  const bool engineer = options.audience == Audience::engineer;
  data page;
  page.set("title", result.coin + ": production spread and acceptance");
  page.set("style", std::string(page_style()));
  page.set("coin", result.coin);
  page.set("what", "Production spread and acceptance" +
                       (engineer && !result.construction.empty() ? ", " + result.construction : "") + ", read by " +
                       result.sensor);
  page.set("note", optional_text(engineer ? result.note : ""));
  page.set("has_verdicts", data{!result.windows.empty()});
  page.set("no_verdicts", data{result.windows.empty()});
  page.set("verdicts", verdicts(result));
  page.set("next", texts(next_steps(result, engineer)));
  page.set("rests", texts(rests_on(result, options.audience)));
  page.set("uncovered", texts(not_covered(result)));
  page.set("has_warnings", data{engineer && !result.warnings.empty()});
  page.set("warnings", texts(result.warnings));
  data all = list();
  for (const auto& figure : figures(result, options.audience)) all << figure_data(figure);
  page.set("figures", all);
  page.set("record", record(result, options));
  page.set("cautions", texts(cautions()));
  kainjow::mustache::mustache layout{std::string(page_template())};
  expect(layout.is_valid(), "the page's template is well formed");
  layout.set_custom_escape([](const std::string& text) { return escaped(text); });
  return layout.render(page);
}

}  // namespace mintspread::reports
