#include <set>

#include "engine/coin/coin_block.hpp"
#include "engine/route/check.hpp"
#include "engine/route/form.hpp"
#include "engine/route/nominal_check.hpp"

namespace mintspread::route {

using coin::CoinBlock;
using Piece = CoinBlock::Piece;

void check(const Section& section, const Columns& nominal, std::vector<Problem>& problems,
           std::vector<Problem>& warnings) {
  NominalCheck check(nominal, problems, warnings);
  if (section.layers.empty() || section.core >= section.layers.size()) {
    check.problem("section.layers", "a section has layers, and one of them is the core",
                  "List the layers from the upper face down.");
    return;
  }
  std::set<std::string> names;
  double rim = 0.0;
  for (std::size_t k = 0; k < section.layers.size(); ++k) {
    const auto& layer = section.layers[k];
    const std::string path = "section.layers." + layer.name;
    if (!names.insert(layer.name).second) {
      check.problem(path, fmt::format("the name \"{}\" is taken by a layer before it", layer.name),
                    "Give each layer its own name.");
    }
    check.metal(layer.metal, path);
    check.positive(layer.thickness, path + ".thickness", "a layer's thickness");
    if (k == section.core) {
      rim = 0.0;
      continue;
    }
    check.not_negative(layer.rim_thickness, path + ".rim thickness", "a rim thickness");
    rim += check.value(layer.rim_thickness);
    if (2.0 * rim >= check.value(section.diameter)) {
      check.problem(path + ".rim thickness", "the rim's layers are thicker than the coin's radius", "Check the unit.");
    }
  }
  check.positive(section.diameter, "section.diameter", "the diameter");
  check.not_negative(section.rim_width, "section.rim width", "the rim's width");
  check.not_negative(section.rim_height_up, "section.rim height.up", "a rim height");
  check.not_negative(section.rim_height_down, "section.rim height.down", "a rim height");
  if (2.0 * check.value(section.rim_width) >= check.value(section.diameter)) {
    check.problem("section.rim width",
                  fmt::format("the rim ({:.3f} mm) reaches the middle of the coin, whose radius is {:.3f} mm",
                              in_mm(check.value(section.rim_width)), in_mm(check.value(section.diameter)) / 2),
                  "State the width of the rim ring, some 1 mm.");
  }
  const double height = check.value(section.rim_height_up) + check.value(section.rim_height_down);
  if (height > 0.0 && check.value(section.rim_width) == 0.0) {
    check.warn("section.rim height",
               "a rim height without a rim width: the rim counts for the gauge and the gaps, not for the mass",
               "State the rim width.");
  }
  if (!check.clean()) return;
  CoinBlock block(construction_of(section), nominal.lanes());
  form(section, nominal, block);
  if (!(block.piece(Piece::diameter)[0] > 0.0)) {
    check.problem("section", "the nominal piece cannot exist", "Check its dimensions.");
  }
}

}  // namespace mintspread::route
