#include "specs/section.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <string>
#include <vector>

#include "specs/coin_parts.hpp"

namespace mintspread::specs {

namespace {

const QuantityRule section_rim_width = length_rule("rim width", "rim width", "a width is not negative", true);
const QuantityRule coin_diameter = length_rule("diameter", "diameter of the coin", "a coin has a diameter", false);
const QuantityRule layer_thickness =
    length_rule("thickness", "thickness on the face", "a layer cannot be thinner than nothing", false, "face");
const QuantityRule layer_rim =
    length_rule("rim thickness", "thickness on the rim", "a layer cannot be thinner than nothing", true, "rim");

const char* const section_step = "section";

route::Section::Layer section_layer(const Fields& f, const std::string& name, const Handbook& handbook,
                                    Context& context) {
  route::Section::Layer made{name,
                             handbook.metal(f, section_step, context),
                             add_quantity(context, f, "thickness", layer_thickness, section_step),
                             {}};
  // As on the face: the same draw, not another one of the same distribution.
  made.rim_thickness =
      f.stands("rim thickness") ? add_quantity(context, f, "rim thickness", layer_rim, section_step) : made.thickness;
  return made;
}

void choose_core(const Fields& f, Context& context, route::Section& section) {
  const auto thickness = [&](const route::Section::Layer& layer) {
    return context.model.inputs[index(layer.thickness)].nominal;
  };
  if (const Node* core = f["core"]) {
    std::vector<std::string> names;
    for (const route::Section::Layer& layer : section.layers) names.push_back(layer.name);
    const auto found = std::find(names.begin(), names.end(), f.text("core"));
    if (found == names.end())
      context.findings.error(core->at, f.path("core"), fmt::format("`{}` is no layer of the section", f.text("core")),
                             suggest(f.text("core"), names));
    else
      section.core = static_cast<std::size_t>(found - names.begin());
    return;
  }
  const auto thickest = std::max_element(section.layers.begin(), section.layers.end(),
                                         [&](const auto& a, const auto& b) { return thickness(a) < thickness(b); });
  section.core = static_cast<std::size_t>(thickest - section.layers.begin());
  const auto as_thick = std::count_if(section.layers.begin(), section.layers.end(),
                                      [&](const auto& layer) { return thickness(layer) == thickness(*thickest); });
  if (as_thick > 1)
    context.findings.error(f.node().at, f.path(),
                           "two layers are equally thick, so it is not clear which one is the core",
                           "Name it: `core: NAME`.");
}

}  // namespace

void read_section(const Node& node, const Handbook& handbook, Context& context) {
  const std::size_t before = context.findings.errors();
  const Fields f(node, "section");
  route::Section made;
  made.diameter = add_quantity(context, f, "diameter", coin_diameter, section_step);
  made.rim_width = add_quantity(context, f, "rim width", section_rim_width, section_step);
  read_rim_height(f, section_step, context, made.rim_height_up, made.rim_height_down);
  const Node* layers = f["layers"];
  for (std::size_t i = 0; layers && i < layers->items.size(); ++i) {
    const Node& item = layers->items[i];
    if (item.refused || item.kind != Node::Kind::mapping) continue;
    const std::string name = Fields(item, "").text("name");
    const Fields layer(item, below("section.layers", name.empty() ? std::to_string(i + 1) : name));
    made.layers.push_back(section_layer(layer, name, handbook, context));
  }
  if (context.findings.errors() == before && sound(node, handbook, context)) choose_core(f, context, made);
  context.model.coin = std::move(made);
  if (context.findings.errors() == before) check_nominal(node, handbook, context);
}

}  // namespace mintspread::specs
