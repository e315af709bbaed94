#include <algorithm>

#include "reports/numbers.hpp"
#include "reports/paper.hpp"
#include "reports/text.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

std::vector<std::string> steps_in_order(const Result& result) {
  std::vector<std::string> steps;
  for (const auto& input : result.inputs) {
    if (std::find(steps.begin(), steps.end(), input.step) == steps.end()) steps.push_back(input.step);
  }
  return steps;
}

// The step stands in the heading already.
void step(Paper& paper, const Result& result, const std::string& name) {
  paper.heading(name);
  TextTable table{{{"quantity", Align::left},
                   {"not known", Align::left},
                   {"varies by", Align::left},
                   {"basis", Align::left},
                   {"as understood", Align::left, true}},
                  1,
                  {}};
  std::string exact;
  for (const auto& input : result.inputs) {
    if (input.step != name) continue;
    if (!input.spread && !input.known_to) {
      exact += (exact.empty() ? "exact: " : "; ") + path_in_step(input) + " " + input.understood;
      continue;
    }
    table.rows.push_back({path_in_step(input), input.known_to ? "band" : "", input.spread ? input.level : "",
                          input.basis, input.understood});
  }
  if (!table.rows.empty()) paper.table(table);
  if (!exact.empty()) paper.paragraph(exact, Tone::plain, 2, 2);
}

}  // namespace

std::string inputs_text(const Result& result, const TextOptions& options) {
  Paper paper(options);
  paper.paragraph(result.coin + (result.construction.empty() ? "" : " (" + result.construction + ")"), Tone::strong);
  for (const auto& name : steps_in_order(result)) step(paper, result, name);

  const auto spread = std::count_if(result.inputs.begin(), result.inputs.end(), [](const auto& i) { return i.spread; });
  const auto unknown = unknown_inputs(result).size();
  const auto exact =
      std::count_if(result.inputs.begin(), result.inputs.end(), [](const auto& i) { return !i.spread && !i.known_to; });
  paper.heading("Together");
  paper.paragraph(std::to_string(spread) + " quantities vary, " + std::to_string(unknown) + " are not known, " +
                      std::to_string(exact) + " are exact.",
                  Tone::plain, 2, 2);
  std::string bases;
  for (const auto& [basis, list] : inputs_by_basis(result)) {
    bases +=
        (bases.empty() ? "Basis of what varies or is not known: " : ", ") + basis + " " + std::to_string(list.size());
  }
  if (!bases.empty()) paper.paragraph(bases + ".", Tone::plain, 2, 2);
  if (!result.windows.empty()) {
    paper.heading("Windows");
    TextTable table{{{"class", Align::left},
                     {"criterion", Align::left},
                     {"limits", Align::left},
                     {"nominal", Align::right},
                     {"", Align::left, true}},
                    2,
                    {}};
    for (const auto& set : result.windows) {
      for (const auto& c : set.criteria) {
        const bool inside = c.nominal >= c.lower && c.nominal <= c.upper;
        table.rows.push_back(
            {set.machine_class, c.name, window_text(c), significant(c.nominal),
             (c.relation ? c.expression : "") + std::string(inside ? "" : " the nominal coin lies outside")});
      }
    }
    paper.table(table);
  }
  if (!result.warnings.empty()) paper.heading("Warnings");
  for (const auto& warning : result.warnings) paper.paragraph(warning, Tone::doubtful, 2, 2);
  paper.gap();
  return paper.take();
}

}  // namespace mintspread::reports
