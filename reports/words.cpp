#include "reports/words.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <string_view>

#include "reports/numbers.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

bool word_character(char c) { return std::isalnum(static_cast<unsigned char>(c)) != 0 || c == '_'; }

// An expression calls a channel by its name with blanks written as underscores.
bool names_channel(std::string_view expression, std::string name) {
  std::replace(name.begin(), name.end(), ' ', '_');
  for (std::size_t at = expression.find(name); !name.empty() && at != std::string_view::npos;
       at = expression.find(name, at + 1)) {
    const std::size_t end = at + name.size();
    const bool starts = at == 0 || !word_character(expression[at - 1]);
    if (starts && (end == expression.size() || !word_character(expression[end]))) return true;
  }
  return false;
}

double rejected(const CriterionResult& criterion) {
  return std::isfinite(criterion.accepted.value) ? 1.0 - criterion.accepted.value : 0.0;
}

// "measured, n = 40" is of the basis "measured".
std::string basis_word(const std::string& basis) { return basis.substr(0, basis.find(',')); }

bool narrower_than_band(const Figure& figure) {
  if (!figure.band) return false;
  const double interval = figure.interval ? figure.interval->upper - figure.interval->lower : 0.0;
  return figure.band->upper - figure.band->lower > 1.5 * interval;
}

void add_unique(std::vector<std::string>& list, const std::string& text) {
  if (!text.empty() && std::find(list.begin(), list.end(), text) == list.end()) list.push_back(text);
}

void add_levels(std::vector<std::string>& list, const std::string& levels) {
  std::size_t start = 0;
  while (start < levels.size()) {
    const std::size_t end = std::min(levels.find(", ", start), levels.size());
    add_unique(list, levels.substr(start, end - start));
    start = end + 2;
  }
}

std::string with_unit(const std::string& number, const std::string& unit) {
  return unit.empty() ? number : number + " " + unit;
}

// Advice for the criterion that limits a class: centre it, or narrow the spread.
std::string advice(const Result& result, const WindowSetResult& set) {
  const CriterionResult& worst = set.criteria.at(*set.worst);
  const std::string who = worst.name + " (" + set.machine_class + ")";
  if (!marks_of(result, worst).empty()) {
    return "Do not decide on " + who +
           " from this run: its computed value is known to be wrong. Measure it on real pieces.";
  }
  const Spread* spread = worst.channel   ? &result.channels.at(*worst.channel).reading
                         : worst.reading ? &*worst.reading
                                         : nullptr;
  const double low = worst.rejected_low.value, high = worst.rejected_high.value;
  const bool bounded = std::isfinite(worst.lower) && std::isfinite(worst.upper);
  if (spread == nullptr || !(spread->sd.value > 0.0)) return "Look at " + who + ": it rejects most.";
  const double mean = spread->mean.value, sd = spread->sd.value;
  const auto in_unit = [&](double x) { return with_unit(significant(x, 2), worst.unit); };
  if (!bounded) {
    const double limit = std::isfinite(worst.lower) ? worst.lower : worst.upper;
    return "Move the nominal of " + who + " away from its limit or narrow its spread: the mean stands " +
           significant(std::abs(mean - limit) / sd, 2) + " sd from the limit.";
  }
  const double centre = 0.5 * (worst.lower + worst.upper), half = 0.5 * (worst.upper - worst.lower);
  const double shift = mean - centre;
  const bool one_sided = std::max(low, high) > 3.0 * std::min(low, high);
  if (one_sided && std::abs(shift) > 0.1 * sd) {
    return "Centre " + who + ": its mean stands " + in_unit(std::abs(shift)) + (shift > 0 ? " above" : " below") +
           " the middle of the window. Move the nominal, or ask for a window moved by as much.";
  }
  return "Narrow the spread of " + who + " or ask for a wider window: it reaches " + significant(half / sd, 2) +
         " sd to either side of its middle.";
}

std::string more_pieces(const Result& result, const TargetResult& target) {
  if (std::isnan(target.figure.value))
    return "Compute more pieces than " + count(result.provenance.pieces) +
           ", or widen the limits of the sorts: none was finished, so that nothing is known of \"" + target.text +
           "\".";
  return "Compute more pieces than " + count(result.provenance.pieces) + ": the interval of \"" + target.text +
         "\" still straddles the target.";
}

}  // namespace

std::vector<std::string> marks_of(const Result& result, const CriterionResult& criterion) {
  std::vector<std::string> marks;
  for (std::size_t c = 0; c < result.channels.size(); ++c) {
    const bool uses =
        criterion.channel ? *criterion.channel == c : names_channel(criterion.expression, result.channels[c].name);
    if (!uses) continue;
    for (const auto& mark : result.channels[c].marks) add_unique(marks, mark);
  }
  return marks;
}

std::vector<Subject> subjects(const Result& result) {
  std::vector<Subject> list;
  for (const auto& channel : result.channels) {
    list.push_back({channel.name,
                    channel.kind,
                    channel.unit,
                    &channel,
                    &channel.reading,
                    channel.nominal,
                    channel.marks,
                    {},
                    0.0});
  }
  for (std::size_t w = 0; w < result.windows.size(); ++w) {
    for (std::size_t c = 0; c < result.windows[w].criteria.size(); ++c) {
      const CriterionResult& criterion = result.windows[w].criteria[c];
      Subject* subject = nullptr;
      if (criterion.channel) {
        subject = &list.at(*criterion.channel);
      } else {
        list.push_back({criterion.name,
                        criterion.expression,
                        criterion.unit,
                        nullptr,
                        criterion.reading ? &*criterion.reading : nullptr,
                        criterion.nominal,
                        marks_of(result, criterion),
                        {},
                        0.0});
        subject = &list.back();
      }
      subject->windows.push_back({w, c});
      subject->rejected = std::max(subject->rejected, rejected(criterion));
    }
  }
  std::stable_sort(list.begin(), list.end(),
                   [](const Subject& a, const Subject& b) { return a.rejected > b.rejected; });
  return list;
}

std::string window_text(const CriterionResult& criterion) {
  const bool low = std::isfinite(criterion.lower), high = std::isfinite(criterion.upper);
  std::string text = "any value";
  if (low && high) text = significant(criterion.lower, 9) + " .. " + significant(criterion.upper, 9);
  if (low && !high) text = ">= " + significant(criterion.lower, 9);
  if (!low && high) text = "<= " + significant(criterion.upper, 9);
  return with_unit(text, criterion.unit);
}

Included included(const Result& result) {
  std::vector<std::string> levels, conditions;
  for (const auto& input : result.inputs) {
    if (!input.spread) continue;
    if (input.step == "sensor") {
      add_unique(conditions, input.level.empty() ? input.name : input.name + " (" + input.level + ")");
    } else {
      add_levels(levels, input.level);
    }
  }
  const std::string of_coin = levels.empty() ? "nothing varies from piece to piece" : list_of(levels);
  return {
      of_coin + "; conditions at nominal, no noise, no rounding",
      (levels.empty() ? of_coin : list_of(levels)) +
          (conditions.empty() ? "; no condition or noise varies" : "; conditions and noise: " + list_of(conditions))};
}

std::string verdict(const Result& result, const WindowSetResult& set) {
  const Told told_accepted = told_percent(set.accepted);
  if (!std::isfinite(set.accepted.value)) return set.machine_class + ": the fraction accepted is undefined.";
  const std::string pieces = count(result.provenance.pieces - result.unsolved);
  if (set.accepted.value == 1.0) {
    return set.machine_class + " accepts " +
           (set.accepted.interval ? "more than " + told_accepted.lower + " % of the coins: " : "every coin seen: ") +
           "all of " + pieces + " computed pieces.";
  }
  if (set.accepted.value == 0.0) {
    return set.machine_class + " accepts " +
           (set.accepted.interval ? "less than " + told_accepted.upper + " % of the coins: " : "no coin seen: ") +
           "none of " + pieces + " computed pieces.";
  }
  std::string text = set.machine_class + " accepts " + percent(told_accepted) + " of the coins";
  if (set.accepted.interval) text += " (95 % interval " + told_accepted.lower + " to " + told_accepted.upper + " %)";
  return text + ".";
}

std::string limit(const Result& result, const WindowSetResult& set) {
  if (std::isnan(set.accepted.value)) return "No computed piece was finished.";
  if (!set.worst) return "No computed piece was rejected.";
  const CriterionResult& worst = set.criteria.at(*set.worst);
  std::vector<std::string> parts;
  const auto side = [&](const Figure& part, const char* word, double limit_value) {
    if (!(part.value > 0.0)) return;
    parts.push_back(percent(told_percent(part)) + " " + word + " " +
                    with_unit(significant(limit_value, 9), worst.unit));
  };
  const bool high_first = worst.rejected_high.value > worst.rejected_low.value;
  if (high_first) side(worst.rejected_high, "above", worst.upper);
  side(worst.rejected_low, "below", worst.lower);
  if (!high_first) side(worst.rejected_high, "above", worst.upper);
  if (worst.undefined > 0) parts.push_back(count(worst.undefined) + " pieces without a value");
  std::string text = worst.name + " rejects most: " + list_of(parts);
  if (!marks_of(result, worst).empty()) text += " (marked: the planar value is known to be wrong here)";
  return text + ".";
}

std::vector<std::pair<std::string, std::vector<const InputResult*>>> inputs_by_basis(const Result& result) {
  std::vector<std::pair<std::string, std::vector<const InputResult*>>> groups;
  for (const char* word : {"measured", "drawing", "handbook", "supplier", "guess", "unstated"})
    groups.push_back({word, {}});
  for (const auto& input : result.inputs) {
    if (!input.spread && !input.known_to) continue;
    const std::string word = basis_word(input.basis);
    const auto same = [&](const auto& group) { return group.first == word; };
    auto group = std::find_if(groups.begin(), groups.end(), same);
    if (group == groups.end()) group = groups.insert(groups.end(), {word, {}});
    group->second.push_back(&input);
  }
  groups.erase(std::remove_if(groups.begin(), groups.end(), [](const auto& group) { return group.second.empty(); }),
               groups.end());
  return groups;
}

std::vector<const InputResult*> unknown_inputs(const Result& result) {
  std::vector<const InputResult*> list;
  for (const auto& input : result.inputs) {
    if (input.known_to) list.push_back(&input);
  }
  return list;
}

std::string path_in_step(const InputResult& input) {
  // A step is headed "bath outer nickel" and written "bath.outer nickel" in paths.
  std::string prefix = input.step + ".";
  if (const auto blank = prefix.find(' '); blank != std::string::npos) prefix[blank] = '.';
  return input.path.compare(0, prefix.size(), prefix) == 0 ? input.path.substr(prefix.size()) : input.path;
}

std::vector<std::string> next_steps(const Result& result, bool names_inputs) {
  std::vector<std::string> steps;
  for (const auto& target : result.targets) {
    if (!target.decided) steps.push_back(more_pieces(result, target));
  }
  if (result.precision && !result.precision->met) {
    steps.push_back("Allow more pieces or a wider interval: " + precision_words(result, *result.precision));
  }
  std::vector<const WindowSetResult*> order;
  for (const auto& set : result.windows) {
    if (set.worst && set.accepted.value < 0.9999) order.push_back(&set);
  }
  std::stable_sort(order.begin(), order.end(),
                   [](const auto* a, const auto* b) { return a->accepted.value < b->accepted.value; });
  for (const auto* set : order) add_unique(steps, advice(result, *set));
  const WindowSetResult* least_known = nullptr;
  const auto width = [](const WindowSetResult& set) { return set.accepted.band->upper - set.accepted.band->lower; };
  for (const auto& set : result.windows) {
    if (narrower_than_band(set.accepted) && (least_known == nullptr || width(set) > width(*least_known)))
      least_known = &set;
  }
  if (least_known != nullptr && names_inputs) {
    std::vector<std::string> names;
    for (const auto* input : unknown_inputs(result)) names.push_back(input->path);
    steps.push_back("Measure what is not known (" + some_of(names) + "): depending on it " +
                    least_known->machine_class + " accepts between " + band_words(told_percent(least_known->accepted)) +
                    ".");
  }
  if (names_inputs) {
    std::vector<std::string> names;
    for (const auto& [basis, list] : inputs_by_basis(result)) {
      if (basis != "guess" && basis != "unstated") continue;
      for (const auto* input : list) {
        if (!input->known_to) names.push_back(input->path);
      }
    }
    if (!names.empty()) steps.push_back("Replace guesses by measurements: " + some_of(names) + ".");
  }
  steps.push_back("Confirm with an acceptance trial with the machine makers before production.");
  return steps;
}

std::vector<std::string> not_covered(const Result& result) {
  std::vector<std::string> list{
      beyond_the_model(result),
      "Fractions are over the long run of production; a single lot can do better or worse.",
      "Wear, foreign coins and slugs: each takes a specification of its own.",
  };
  for (const auto& channel : result.channels) {
    for (const auto& mark : channel.marks) list.push_back(channel.name + ": " + mark + ".");
  }
  if (result.unsolved > 0) {
    list.push_back(count(result.unsolved) +
                   " pieces could not be computed and were left out; the intervals of fractions are widened by them.");
  }
  return list;
}

std::string beyond_the_model(const Result& result) {
  return result.provenance.disc_solutions > 0
             ? "Coils see a plain disc with a raised rim, coaxial with them: relief, edge lettering and an offset in "
               "the "
               "slot are not part of the electromagnetic channels."
             : "The coin is computed as layers of unlimited width: its edge and its rim are not part of the "
               "electromagnetic channels.";
}

std::vector<std::string> cautions() {
  return {"A prediction is no certificate of acceptance and does not replace a trial with the machine makers.",
          "Nickel release is not assessed.",
          "Plating chemicals and hot work: under local rules and licensed practice only.",
          "Window data can help counterfeiters: treat this report as confidential."};
}

std::vector<std::string> model_words(const Result& result) {
  const auto& p = result.provenance;
  if (p.disc_solutions == 0)
    return {
        "Coils see a coin of unlimited width, without its rim; channels for which that is known to be wrong are "
        "marked."};
  std::vector<std::string> list;
  if (p.pieces == 0) {
    list.push_back("Coils see the coin in its finite size, with its raised and plated rim.");
  } else {
    list.push_back("Coils see the coin in its finite size, with its raised and plated rim: " + count(p.disc_solutions) +
                   " coins of this production were solved, and all others are read between them. The error that stands "
                   "with a nominal value is that of both.");
  }
  if (p.disc_failed > 0) list.push_back(count(p.disc_failed) + " of them could not be solved and were left out.");
  if (result.outside > 0)
    list.push_back(count(result.outside) + " of " + count(p.pieces) +
                   " pieces lie beyond the coins that were solved and are read as at their edge.");
  return list;
}

std::string method_words(const Result& result) {
  const auto& m = result.methods;
  std::string text =
      "fractions " + m.proportion + "; mean " + m.mean + "; standard deviation " + m.sd + "; quantiles " + m.quantile;
  if (!m.share.empty()) text += "; shares " + m.share;
  if (!m.lot.empty()) text += "; lots: " + m.lot;
  return text;
}

std::string precision_words(const Result& result, const PrecisionResult& precision) {
  const auto half = [&](double value) {
    return "\u00b1 " + significant(value, 3) + (precision.unit.empty() ? "" : " " + precision.unit);
  };
  std::string text = precision.figure + ": the 95 % interval is " + half(precision.reached) + " wide after " +
                     count(result.provenance.pieces) + " pieces; " + half(precision.wanted) + " was asked for";
  return text + (precision.met ? "." : ", but these are the most pieces allowed.");
}

std::string target_word(const TargetResult& target) {
  if (std::isnan(target.figure.value)) return "undecided: no piece was finished";
  if (!target.decided) return "undecided: the interval straddles the target";
  return target.met ? "met" : "missed";
}

std::string origin(const Result& result) {
  const auto& p = result.provenance;
  std::string text = p.specification_file.empty() ? "" : p.specification_file + ", ";
  if (!p.specification_hash.empty()) text += "sha256 " + p.specification_hash.substr(0, 16) + ", ";
  if (p.pieces > 0) text += "seed " + std::to_string(p.seed) + ", " + count(p.pieces) + " pieces, " + p.design + ", ";
  text += "mintspread " + p.engine_version + ", " + p.model_version + ", " + p.compiler + ", " + p.processor_path;
  if (p.planar_error > 0.0) text += ", planar error " + significant(p.planar_error, 2);
  if (p.threads > 0) text += ", " + significant(p.seconds, 3) + " s on " + std::to_string(p.threads) + " threads";
  return text;
}

std::string some_of(std::vector<std::string> names) {
  constexpr std::size_t told = 3;
  if (names.size() > told + 1) {
    names[told] = std::to_string(names.size() - told) + " more";
    names.resize(told + 1);
  }
  return list_of(names);
}

std::string list_of(const std::vector<std::string>& names) {
  std::string text;
  for (std::size_t i = 0; i < names.size(); ++i) {
    if (i != 0) text += i + 1 == names.size() ? " and " : ", ";
    text += names[i];
  }
  return text;
}

}  // namespace mintspread::reports
