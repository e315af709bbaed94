#include <algorithm>
#include <cmath>

#include "engine/base/constants.hpp"
#include "reports/marks.hpp"
#include "reports/numbers.hpp"
#include "reports/paper.hpp"
#include "reports/section_text.hpp"
#include "reports/text.hpp"
#include "reports/words.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

// Impedances are computed to about 1e-6 of |dZ|: the last digit told of either part is no finer.
constexpr double planar_accuracy = 1e-6;

struct OhmUnit {
  const char* name;
  double ohm;
};

OhmUnit unit_for(const std::vector<ImpedanceRow>& rows) {
  double largest = 0.0;
  for (const auto& row : rows) {
    const double size = std::hypot(row.resistance, row.reactance);
    if (std::isfinite(size)) largest = std::max(largest, size);
  }
  if (largest >= 1e3) return {"kohm", 1e3};
  if (largest >= 1.0) return {"ohm", 1.0};
  if (largest >= 1e-3) return {"mohm", 1e-3};
  return {"uohm", 1e-6};
}

std::string to_accuracy(double value, double size) {
  return size > 0.0 && std::isfinite(size) ? fixed(value, decimal_places(100 * planar_accuracy * size))
                                           : significant(value);
}

void section(Paper& paper, const NominalCoin& coin) {
  paper.heading("Section, upper face to lower", "not to scale");
  paper.table(section_table(coin, std::min<std::size_t>(30, paper.width() / 4)));
  std::string sizes = "diameter " + length(coin.diameter, 6) + ", rim to rim " + length(coin.thickness, 6) +
                      ", field " + length(coin.field_thickness, 6) + ", mass " + with_prefix(coin.mass * 1e3, "g");
  if (coin.rim_height_up > 0.0 || coin.rim_height_down > 0.0) {
    sizes += ", rim " + length(coin.rim_width) + " wide, " + length(coin.rim_height_up) + " high above and " +
             length(coin.rim_height_down) + " below";
  }
  paper.paragraph(sizes, Tone::plain, 2, 2);
}

void channels(Paper& paper, const Result& result) {
  paper.heading("Channels", "nominal coin, conditions at nominal, no noise");
  Marks marks;
  TextTable table{{{"channel", Align::left},
                   {"reading"},
                   {"±"},
                   {"unit", Align::left},
                   {"model", Align::left},
                   {"what", Align::left, true}},
                  1,
                  {}};
  for (const auto& c : result.channels) {
    table.rows.push_back({marks.on(c.name, c.marks), significant(c.nominal),
                          c.model_error > 0.0 ? significant(c.model_error, 2) : "", c.unit, c.model, c.kind});
  }
  paper.table(table);
  for (const auto& sentence : model_words(result)) paper.paragraph(sentence, Tone::plain, 2, 2);
  marks.explain(paper);
}

void impedances(Paper& paper, const std::vector<ImpedanceRow>& all, bool through) {
  std::vector<ImpedanceRow> rows;
  std::copy_if(all.begin(), all.end(), std::back_inserter(rows),
               [&](const auto& row) { return row.through == through; });
  if (rows.empty()) return;
  const OhmUnit unit = unit_for(rows);
  if (through) {
    paper.heading("Mutual impedance, through the coin", "in total");
  } else {
    paper.heading("Impedance change", "against air; X0 is the drive coil's reactance in air");
  }
  const std::string in = std::string(" / ") + unit.name;
  TextTable table{
      {{"coils", Align::left}, {"frequency"}, {"R" + in}, {"X" + in}, {"|Z|" + in}, {"phase / deg"}}, 2, {}};
  if (!through) table.columns.insert(table.columns.end(), {{"R / X0", Align::right, false, true}, {"X / X0"}});
  for (const auto& row : rows) {
    const double size = std::hypot(row.resistance, row.reactance) / unit.ohm;
    table.rows.push_back({row.coils, with_prefix(row.frequency, "Hz"), to_accuracy(row.resistance / unit.ohm, size),
                          to_accuracy(row.reactance / unit.ohm, size), to_accuracy(size, size),
                          fixed(std::atan2(row.reactance, row.resistance) * 180.0 / pi, 3)});
    if (through) continue;
    const double normal = std::hypot(row.normalised_resistance, row.normalised_reactance);
    table.rows.back().push_back(to_accuracy(row.normalised_resistance, normal));
    table.rows.back().push_back(to_accuracy(row.normalised_reactance, normal));
  }
  paper.table(table);
}

void decays(Paper& paper, const std::vector<DecayRow>& rows) {
  if (rows.empty()) return;
  paper.heading("Decay gates", "after the drive current begins to fall");
  TextTable table{{{"coils", Align::left}, {"time"}, {"width"}, {"ramp"}, {"voltage"}}, 1, {}};
  for (const auto& row : rows) {
    table.rows.push_back({row.coils, with_prefix(row.time, "s"), with_prefix(row.width, "s"),
                          with_prefix(row.ramp, "s"), with_prefix(row.voltage, "V", 5)});
  }
  paper.table(table);
}

}  // namespace

std::string reading_text(const Result& result, const TextOptions& options) {
  Paper paper(options);
  paper.paragraph(result.coin + (result.construction.empty() ? "" : " (" + result.construction + ")"), Tone::strong);
  if (!result.note.empty()) paper.paragraph(result.note);
  paper.paragraph("Sensor: " + result.sensor);
  section(paper, result.nominal);
  channels(paper, result);
  impedances(paper, result.nominal.impedances, false);
  impedances(paper, result.nominal.impedances, true);
  decays(paper, result.nominal.decays);
  if (!result.warnings.empty()) paper.heading("Warnings");
  for (const auto& warning : result.warnings) paper.paragraph(warning, Tone::doubtful, 2, 2);
  paper.gap();
  paper.paragraph(origin(result));
  return paper.take();
}

}  // namespace mintspread::reports
