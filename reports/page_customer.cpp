#include <algorithm>
#include <cctype>
#include <iterator>
#include <string>
#include <string_view>
#include <vector>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/page_content.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

std::vector<std::string> words_of(const std::string& text) {
  std::vector<std::string> words(1);
  for (const char c : text) {
    if (std::isalpha(static_cast<unsigned char>(c))) {
      words.back() += static_cast<char>(std::tolower(static_cast<unsigned char>(c)));
    } else if (!words.back().empty()) {
      words.emplace_back();
    }
  }
  words.erase(std::remove_if(words.begin(), words.end(), [](const auto& word) { return word.size() < 3; }),
              words.end());
  return words;
}

std::vector<std::string> construction_words(const Result& result) {
  std::vector<std::string> words;
  const auto add = [&](const std::string& text) {
    for (const auto& word : words_of(text)) words.push_back(word);
  };
  add(result.construction);
  for (const auto& layer : result.nominal.layers) add(layer.name), add(layer.metal);
  for (const auto& input : result.inputs) {
    if (input.step != "sensor") add(input.step);
  }
  return words;
}

// Beginnings of words that tell of a coin's inside whether its own specification uses them or not: "worn to the core"
// in a coin's state says as much as a layer's name.
bool tells_of_inside(const std::string& word) {
  constexpr std::string_view stems[] = {"plat",   "layer", "core",   "clad",   "coat",   "bath",  "anneal", "blank",
                                        "strip",  "strik", "struck", "barrel", "bare",   "metal", "alloy",  "nickel",
                                        "copper", "brass", "bronze", "steel",  "iron",   "zinc",  "tin",    "cupro",
                                        "alumin", "chrom", "silver", "gold",   "deposit"};
  return std::any_of(std::begin(stems), std::end(stems), [&](std::string_view stem) {
    // "tin" and the like begin other words as well.
    return stem.size() <= 3 ? word == stem : word.compare(0, stem.size(), stem) == 0;
  });
}

// "Invented 22 mm, nickel on copper" keeps "Invented 22 mm", of "Invented 22 mm, ten years" stays all, of "Invented 22
// mm, worn to the steel" the state goes.
std::string public_name(const Result& result) {
  const auto secret = construction_words(result);
  const auto tells = [&](const std::string& part) {
    const auto words = words_of(part);
    return std::any_of(words.begin(), words.end(), [&](const auto& word) {
      return tells_of_inside(word) || std::find(secret.begin(), secret.end(), word) != secret.end();
    });
  };
  std::string name;
  std::size_t start = 0;
  while (start < result.coin.size()) {
    const std::size_t end = std::min(result.coin.find_first_of(",;:(", start), result.coin.size());
    const std::string part = result.coin.substr(start, end - start);
    if (tells(part)) break;
    name += (start == 0 ? "" : result.coin.substr(start - 1, 1)) + part;
    start = end + 1;
  }
  if (name.find_first_not_of(' ') == std::string::npos)
    return "Coin " + result.provenance.specification_hash.substr(0, 12);
  return name;
}

RowGroup windows_group(const Result& result, const WindowSetResult& set) {
  RowGroup group{set.machine_class, {}};
  std::vector<const CriterionResult*> order;
  for (const auto& criterion : set.criteria) order.push_back(&criterion);
  std::stable_sort(order.begin(), order.end(),
                   [](const auto* a, const auto* b) { return a->accepted.value < b->accepted.value; });
  const auto row = [](const std::string& name, const std::string& window, const Figure& accepted) {
    Row line = percent_row(name, accepted, false);
    line.cells.insert(line.cells.begin(), Cell{{window, ""}});
    return line;
  };
  group.rows.push_back(row("every criterion", "", set.accepted));
  for (const auto* criterion : order) {
    const bool marked = !marks_of(result, *criterion).empty();
    group.rows.push_back(
        row(criterion->name + (marked ? " (marked)" : ""), window_words(*criterion), criterion->accepted));
  }
  return group;
}

PageTable windows_table(const Result& result) {
  PageTable table{"Accepted, per machine class and per criterion alone",
                  {"criterion", "window", "accepted", "95 % interval"},
                  {},
                  false};
  for (const auto& set : result.windows) table.groups.push_back(windows_group(result, set));
  return table;
}

PageTable channels_table(const Result& result) {
  PageTable table{
      "Readings, everything included", {"channel", "mean", "standard deviation", "0.135 %", "99.865 %"}, {}, false};
  // A channel that no machine judges by is none of the customer's concern; without windows all are told.
  const auto windowed = [&](const ChannelResult& channel) {
    return result.windows.empty() ||
           std::any_of(result.windows.begin(), result.windows.end(), [&](const WindowSetResult& set) {
             return std::any_of(set.criteria.begin(), set.criteria.end(), [&](const CriterionResult& criterion) {
               return criterion.channel && &result.channels[*criterion.channel] == &channel;
             });
           });
  };
  RowGroup group{"", {}};
  for (const auto& channel : result.channels) {
    if (channel.reading.pieces == 0 || channel.reading.quantiles.empty() || !windowed(channel)) continue;
    Row row{channel.name + (channel.unit.empty() ? "" : ", " + typeset(channel.unit)) +
                (channel.marks.empty() ? "" : " (marked)"),
            {}};
    for (const Figure* figure : {&channel.reading.mean, &channel.reading.sd, &channel.reading.quantiles.front().figure,
                                 &channel.reading.quantiles.back().figure}) {
      const Told text = told(*figure);
      row.cells.push_back(
          {{text.value, carried(figure->value)}, {text.half_width.empty() ? "" : " ± " + text.half_width, ""}});
    }
    group.rows.push_back(row);
  }
  table.groups.push_back(group);
  return table;
}

}  // namespace

Result without_construction(const Result& result) {
  Result open = result;
  open.coin = public_name(result);
  open.state.clear();
  open.construction.clear();
  open.note.clear();
  open.nominal = {};
  open.inputs.clear();
  open.warnings.clear();
  open.lots.reset();
  open.yield.reset();
  open.stages.reset();
  open.joint.reset();
  for (auto& set : open.windows) {
    for (auto& criterion : set.criteria) criterion.use.reset();
  }
  open.provenance.specification_file.clear();
  for (auto& channel : open.channels) {
    channel.budget.reset();
    channel.shares.clear();
    if (!channel.marks.empty()) channel.marks = {"the computed value is known to be wrong here; do not decide on it"};
  }
  return open;
}

PageContent customer_content(const Result& whole, Times times) {
  const Result result = without_construction(whole);
  PageContent content;
  content.audience = Audience::customer;
  content.title = result.coin + ": production spread and acceptance";
  content.coin = result.coin;
  content.what = "Production spread and acceptance, read by " + result.sensor;
  content.verdicts = verdicts_of(result);
  for (const auto& target : result.targets) {
    if (!target.decided) content.next.push_back("The interval of \"" + target.text + "\" still straddles the target.");
  }
  content.next.push_back("Confirm with an acceptance trial with the machine makers before production.");
  content.rests = {count(result.provenance.pieces, "\u202f") +
                       " computed pieces; everything that varies in production, in the coin's place in the slot and in "
                       "the reading is included.",
                   "Intervals of 95 % are the sampling error alone; what is not known about the coin is told apart "
                   "where it matters."};
  content.uncovered = {beyond_the_model(result),
                       "Fractions are over the long run of production; a single lot can do better or worse.",
                       "Other ages of the coin, foreign coins and slugs are not computed."};
  for (const auto& channel : result.channels) {
    for (const auto& mark : channel.marks) content.uncovered.push_back(channel.name + ": " + mark + ".");
  }

  PageFigure windows{"windows", "Windows", "", {}, {{"", "", windows_table(result)}}};
  const auto order = subjects(result);
  const auto first =
      std::find_if(order.begin(), order.end(), [](const auto& subject) { return !subject.windows.empty(); });
  if (first != order.end() && first->rejected > 0.0) {
    windows.heading = "What rejects most: " + first->name + (first->kind.empty() ? "" : ", " + first->kind);
    windows.marks = first->marks;
    windows.panels.front().drawing = draw_distribution(result, *first, "windows-f");
    windows.panels.front().caption = distribution_caption(*first);
  }
  content.figures.push_back(std::move(windows));
  content.figures.push_back({"channels",
                             "Readings",
                             "± is the half-width of the 95 % interval; columns in per cent are quantiles.",
                             {},
                             {{"", "", channels_table(result)}}});

  const auto& p = result.provenance;
  content.record = {{"Coin", result.coin},
                    {"Sensor", result.sensor},
                    {"SHA-256 of the specification", p.specification_hash},
                    {"Seed and pieces", std::to_string(p.seed) + ", " + count(p.pieces, "\u202f")},
                    {"Program", "mintspread " + p.engine_version + ", " + p.model_version}};
  if (times == Times::keep && p.threads > 0)
    content.record.emplace_back("Computed in", significant(p.seconds, 3) + " s");
  content.cautions = {
      "A prediction is no certificate of acceptance and does not replace a trial with the machine makers.",
      "Release of metal to the skin is not assessed.",
      "Window data can help counterfeiters: treat this report as confidential."};
  return content;
}

}  // namespace mintspread::reports
