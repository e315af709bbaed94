#include <algorithm>
#include <cmath>
#include <vector>

#include "reports/figures.hpp"
#include "reports/numbers.hpp"
#include "reports/svg.hpp"

namespace mintspread::reports {

namespace {

using namespace study;

constexpr std::size_t metal_styles = 6;

// Each metal of the coin has its hatching, in the order in which metals are met.
class MetalStyles {
 public:
  std::string of(const std::string& metal) {
    auto found = std::find(metals_.begin(), metals_.end(), metal);
    if (found == metals_.end()) found = metals_.insert(metals_.end(), metal);
    return "metal metal" + std::to_string(static_cast<std::size_t>(found - metals_.begin()) % metal_styles + 1);
  }

 private:
  std::vector<std::string> metals_;
};

// Plating from the outside to the core, one face.
using Plating = std::vector<const SectionLayer*>;

struct Faces {
  Plating up, down;
  const SectionLayer* core = nullptr;
};

Faces faces_of(const NominalCoin& coin) {
  Faces faces;
  for (const auto& layer : coin.layers) {
    if (layer.core) {
      faces.core = &layer;
    } else if (faces.core == nullptr) {
      faces.up.push_back(&layer);
    } else {
      faces.down.insert(faces.down.begin(), &layer);
    }
  }
  return faces;
}

// A layer, or the sublayers of one blurred boundary together.
struct Zone {
  std::string name;
  double thickness = 0.0, rim_thickness = 0.0;
  std::size_t layers = 0;
};

// What sublayers have in common is before their number: "nickel into copper, 2".
std::string zone_of(const SectionLayer& layer) {
  const std::size_t number = layer.name.rfind(", ");
  const bool numbered = number != std::string::npos && number + 2 < layer.name.size() &&
                        layer.name.find_first_not_of("0123456789", number + 2) == std::string::npos;
  return numbered ? layer.name.substr(0, number) : layer.name;
}

std::vector<Zone> zones_of(const Plating& plating) {
  std::vector<Zone> zones;
  for (const auto* layer : plating) {
    const std::string name = zone_of(*layer);
    if (zones.empty() || zones.back().name != name) zones.push_back({name});
    zones.back().thickness += layer->thickness;
    zones.back().rim_thickness += layer->rim_thickness;
    ++zones.back().layers;
  }
  return zones;
}

double height_of_labels(const Plating& plating) {
  return std::max(150.0, 2.0 * text_line * static_cast<double>(zones_of(plating).size() + 1));
}

bool same(const Plating& a, const Plating& b) {
  return std::equal(a.begin(), a.end(), b.begin(), b.end(), [](const auto* x, const auto* y) {
    return x->name == y->name && x->thickness == y->thickness && x->rim_thickness == y->rim_thickness;
  });
}

// Whole coin to scale. Returns units of the drawing per metre.
double whole(Drawing& drawing, const NominalCoin& coin, const std::string& core_style, double top) {
  const double unit = 560.0 / coin.diameter;
  const double left = 40.0, right = 600.0, rim = coin.rim_width * unit;
  const double up = coin.rim_height_up * unit, down = coin.rim_height_down * unit, bottom = top + coin.thickness * unit;
  drawing.polygon({{left, top},
                   {left + rim, top},
                   {left + rim, top + up},
                   {right - rim, top + up},
                   {right - rim, top},
                   {right, top},
                   {right, bottom},
                   {right - rim, bottom},
                   {right - rim, bottom - down},
                   {left + rim, bottom - down},
                   {left + rim, bottom},
                   {left, bottom}},
                  core_style);
  const double below = bottom + 16;
  drawing.polyline({{left, below - 5}, {left, below + 5}}, "axis");
  drawing.line(left, below, right, below, "axis");
  drawing.polyline({{right, below - 5}, {right, below + 5}}, "axis");
  drawing.text(drawing_width / 2, below + text_line - 4, Anchor::middle,
               length(coin.diameter, 5) + " across, " + length(coin.thickness, 4) + " rim to rim", "soft");
  return unit;
}

// The corner of the rim, plating to scale; layers are named beside it. Returns the height used.
double corner(Drawing& drawing, const Plating& plating, const SectionLayer& core, MetalStyles& styles,
              const std::string& where, double whole_unit, double top) {
  double face = 0.0, rim = 0.0;
  for (const auto* layer : plating) {
    face += layer->thickness;
    rim += layer->rim_thickness;
  }
  const double height = height_of_labels(plating), left = drawing_left, right = 270.0;
  const double unit = std::min(0.6 * height / face, rim > 0.0 ? 170.0 / rim : 1e300);
  top += text_line;
  drawing.text(left, top - 8, Anchor::start, where + ", plating × " + significant(unit / whole_unit, 2), "soft");
  double x = left, y = top, label = top;
  const auto name = [&](const std::string& named, const std::string& size, double at) {
    drawing.polyline({{right, at}, {right + 26, label + 18}, {right + 40, label + 18}}, "leader");
    drawing.text(right + 46, label + 20, Anchor::start, shortened(named, 26));
    drawing.text(right + 46, label + 20 + text_line - 4, Anchor::start, typeset(size), "soft");
    label += 2.0 * text_line;
  };
  const auto fill = [&](const SectionLayer& layer) {
    drawing.rectangle(x, y, right - x, top + height - y, "plate");
    drawing.rectangle(x, y, right - x, top + height - y, styles.of(layer.metal));
  };
  std::size_t next = 0;
  for (const Zone& zone : zones_of(plating)) {
    const double middle = y + 0.5 * zone.thickness * unit;
    for (const std::size_t end = next + zone.layers; next < end; ++next) {
      fill(*plating[next]);
      x += plating[next]->rim_thickness * unit;
      y += plating[next]->thickness * unit;
    }
    std::string size = length(zone.thickness, 3);
    if (zone.rim_thickness > 0.0) size += ", rim " + length(zone.rim_thickness, 3);
    if (zone.layers > 1) size += ", cut in " + std::to_string(zone.layers);
    name(zone.name, size, middle);
  }
  fill(core);
  name(core.name, length(core.thickness, 4), 0.5 * (y + top + height));
  return text_line + height + 10.0;
}

}  // namespace

std::string draw_section(const NominalCoin& coin, const std::string& id) {
  const Faces faces = faces_of(coin);
  if (faces.core == nullptr || !(coin.diameter > 0.0) || !(coin.thickness > 0.0)) return {};
  const bool two = !faces.down.empty() && !same(faces.up, faces.down);
  const auto height_of = [](const Plating& plating) {
    return plating.empty() ? 0.0 : text_line + height_of_labels(plating) + 10.0;
  };
  const double whole_height = 10.0 + coin.thickness * 560.0 / coin.diameter + 20.0 + text_line + 6.0;
  const double height = whole_height + height_of(faces.up) + (two ? height_of(faces.down) : 0.0);

  std::string description =
      "Section of the nominal coin to scale, " + length(coin.diameter, 5) + " across. From the upper face down: ";
  for (const auto& layer : coin.layers) description += layer.name + " " + length(layer.thickness, 4) + "; ";
  Drawing drawing(id, height, "The coin's section", description);
  MetalStyles styles;
  for (const auto& layer : coin.layers) styles.of(layer.metal);
  const double unit = whole(drawing, coin, styles.of(faces.core->metal), 10.0);
  double top = whole_height;
  if (!faces.up.empty()) {
    const std::string where =
        two || faces.down.empty() ? "corner of the rim, upper face" : "corner of the rim, both faces alike";
    top += corner(drawing, faces.up, *faces.core, styles, where, unit, top);
  }
  if (two) corner(drawing, faces.down, *faces.core, styles, "corner of the rim, lower face (turned up)", unit, top);
  return drawing.take();
}

std::string typeset(const std::string& unit) {
  static const std::vector<std::pair<std::string, std::string>> known{{"um", "µm"},   {"us", "µs"},   {"uohm", "µΩ"},
                                                                      {"mohm", "mΩ"}, {"ohm", "Ω"},   {"kohm", "kΩ"},
                                                                      {"uV", "µV"},   {"degC", "°C"}, {"deg", "°"}};
  std::string text;
  std::size_t start = 0;
  while (start < unit.size()) {
    const auto end = std::find_if(unit.begin() + static_cast<std::ptrdiff_t>(start), unit.end(),
                                  [](char c) { return c == ' ' || c == ','; });
    std::string word = unit.substr(start, static_cast<std::size_t>(end - unit.begin()) - start);
    for (const auto& [plain, set] : known) {
      if (word == plain) {
        word = set;
        break;
      }
    }
    text += word;
    start = static_cast<std::size_t>(end - unit.begin());
    if (end != unit.end()) text += unit[start++];
  }
  return text;
}

}  // namespace mintspread::reports
