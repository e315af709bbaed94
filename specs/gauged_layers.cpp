#include "specs/gauged_layers.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace mintspread::specs {

namespace {

/// Up to this relative permeability a layer is not magnetic to a gauge: that of copper-nickel with some iron (common
/// practice); deposits of nickel have ten and more.
constexpr double most_non_magnetic = 1.1;

struct Layer {
  std::string name;
  const route::Metal* metal;
};

/// What lies on the piece where a quantity is measured.
struct Piece {
  std::vector<Layer> layers;
  std::optional<std::size_t> own;  ///< the layer whose thickness the quantity is; nothing: it is none's
};

/// As plated, a bath is measured before the next one; struck, on the finished piece.
Piece piece_at(const route::Route& route, const std::string& quantity) {
  Piece piece;
  bool whole = false;
  for (const route::Step& step : route.steps) {
    if (piece.own && !whole) break;
    if (const auto* blank = std::get_if<route::Blank>(&step)) {
      if (quantity == "blank.thickness") piece.own = 0;
      piece.layers.push_back({"blank", &blank->metal});
    } else if (const auto* bath = std::get_if<route::Bath>(&step)) {
      if (quantity == "bath." + bath->name + ".thickness") {
        piece.own = piece.layers.size();
        whole = bath->stage == route::Stage::struck;
      }
      piece.layers.push_back({bath->name, &bath->metal});
    }
  }
  return piece;
}

/// A reading on a face reaches to the core, which it does not go through; on the rim every layer may lie.
Piece piece_at(const route::Section& section, const std::string& quantity) {
  std::optional<std::size_t> own;
  bool face = false;
  for (std::size_t i = 0; i < section.layers.size() && !own; ++i) {
    const std::string path = "section.layers." + section.layers[i].name;
    face = quantity == path + ".thickness";
    if (face || quantity == path + ".rim thickness") own = i;
  }
  const bool all = !own || !face || *own == section.core;
  Piece piece;
  for (std::size_t i = 0; i < section.layers.size(); ++i) {
    if (!all && (*own < section.core ? i > section.core : i < section.core)) continue;
    if (own == i) piece.own = piece.layers.size();
    piece.layers.push_back({section.layers[i].name, &section.layers[i].metal});
  }
  return piece;
}

std::string list_of(const std::vector<std::string>& names) {
  std::string all;
  for (std::size_t i = 0; i < names.size(); ++i)
    all += (i == 0 ? "`" : i + 1 < names.size() ? ", `" : " and `") + names[i] + "`";
  return all;
}

class Teller {
 public:
  Teller(const GaugedQuantity& gauged, Context& context) : gauged_(gauged), context_(context) {}

  void tell(const Piece& piece) const {
    if (!piece.own) return warn(", which is not what stands here", "");
    const bool of_element = !gauged_.element.empty();
    if (!of_element && !non_magnetic(*piece.layers[*piece.own].metal))
      return warn(", but this one is magnetic", "Name a gauge of this layer, or mend its permeability.");
    std::vector<std::string> read, perhaps;
    for (std::size_t i = 0; i < piece.layers.size(); ++i) {
      const auto& [name, metal] = piece.layers[i];
      if (i == *piece.own) continue;
      if (of_element ? holds(*metal) : non_magnetic(*metal)) read.push_back(name);
      if (of_element && metal->composition.empty()) perhaps.push_back(name);
    }
    const std::string taken = "; the data are taken for this layer alone";
    if (!read.empty())
      warn((of_element ? " in " + list_of(read) + ", too" : ", " + list_of(read) + " among them") + taken,
           "Take off beforehand what is read of others.");
    if (!perhaps.empty())
      warn(" in all layers, and no composition tells how much of it is in " + list_of(perhaps) + taken,
           "State `composition` there or in the handbook.");
  }

 private:
  bool non_magnetic(const route::Metal& metal) const {
    return context_.model.inputs[index(metal.permeability)].nominal <= most_non_magnetic;
  }
  bool holds(const route::Metal& metal) const {
    return std::ranges::any_of(metal.composition,
                               [&](const auto& one) { return one.element == gauged_.element && one.part > 0.0; });
  }
  void warn(const std::string& what, const std::string& remedy) const {
    context_.findings.warning(gauged_.at, gauged_.path, "the gauge reads " + gauged_.reads + what, remedy);
  }

  const GaugedQuantity& gauged_;
  Context& context_;
};

}  // namespace

void warn_of_layers_read_together(Context& context) {
  for (const GaugedQuantity& gauged : context.gauged)
    Teller(gauged, context)
        .tell(std::visit([&](const auto& made) { return piece_at(made, gauged.quantity); }, context.model.coin));
}

}  // namespace mintspread::specs
