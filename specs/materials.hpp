#pragma once

#include <map>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "engine/route/route.hpp"
#include "specs/check.hpp"
#include "specs/context.hpp"
#include "specs/quantity.hpp"

namespace mintspread::specs {

/// One metal of the handbook: where its properties stand. A later file replaces single properties.
struct Material {
  std::map<std::string, const Node*> properties;  ///< by key
  const Node* composition = nullptr;
  std::string source;
};

/// The materials of all handbook files.
class Handbook {
 public:
  /// Reads checked trees of materials files, which must outlive the handbook. `complete` is false where a file could
  /// not be read: a missing material is then no news.
  Handbook(std::span<const Node* const> files, bool complete, Context& context);

  /// A metal for one step: its properties as inputs below `path`, each from the step's own keys or, for lack of them,
  /// from the handbook. Every step has its own draws. Placeholders where something was refused.
  route::Metal metal(const Fields& step, const std::string& step_name, Context& context) const;

  /// Elements of a composition by mass; findings for what is wrong with it.
  static std::vector<materials::Constituent> composition(const Node& node, const std::string& path, Context& context);

  /// Pairs of elements whose layers blur. A pair of a later file replaces that of an earlier one.
  const std::vector<std::shared_ptr<const materials::BlurredBoundary>>& boundaries() const { return boundaries_; }

  /// Whether all files could be read without an error.
  bool sound(const Context& context) const;

  /// Nominal value of a property for a reference piece.
  std::optional<double> nominal(const std::string& material, At at, const std::string& path,
                                const std::string& property, Context& context) const;

 private:
  const Material* find(const std::string& name, At at, const std::string& path, Context& context) const;

  void read_pairs(std::span<const Node* const> files, Context& context);

  std::map<std::string, Material> materials_;
  std::vector<std::shared_ptr<const materials::BlurredBoundary>> boundaries_;
  bool complete_;
  std::vector<std::string> files_;
};

/// The rule of a property of a metal: "conductivity", "permeability", "density", "temperature coefficient".
const QuantityRule& property_rule(const std::string& property);

}  // namespace mintspread::specs
