#include "specs/materials.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <set>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/materials/blurred_boundary.hpp"
#include "specs/constant.hpp"
#include "specs/diffusion.hpp"

namespace mintspread::specs {

namespace {

const std::array<std::string, 4> property_names = {"conductivity", "permeability", "density",
                                                   "temperature coefficient"};

}  // namespace

const QuantityRule& property_rule(const std::string& property) {
  static const std::array<QuantityRule, 4> rules = {
      QuantityRule{.name = "conductivity",
                   .dimensions = {dimension::conductivity},
                   .smallest = 0,
                   .largest = 70e6,
                   .smallest_excluded = true,
                   .why = "metals at 20 degC conduct less than silver's 63 MS/m"},
      QuantityRule{.name = "permeability",
                   .dimensions = {dimension::pure},
                   .smallest = 1,
                   .largest = 1e5,
                   .why = "a metal's relative permeability is 1 or more"},
      QuantityRule{.name = "density",
                   .dimensions = {dimension::density},
                   .smallest = 500,
                   .largest = 25000,
                   .why = "metals lie between 0.5 and 25 g/cm3"},
      QuantityRule{.name = "temperature coefficient",
                   .dimensions = {dimension::per_kelvin},
                   .smallest = -0.01,
                   .largest = 0.02,
                   .why = "metals lie between -0.01 and 0.02 1/K"}};
  const auto found =
      std::find_if(rules.begin(), rules.end(), [&](const QuantityRule& rule) { return rule.name == property; });
  expect(found != rules.end(), "a property of a metal is one of four");
  return *found;
}

Handbook::Handbook(std::span<const Node* const> files, bool complete, Context& context) : complete_(complete) {
  // Every quantity is read once where it stands, so that faults of materials nobody uses are found too. Levels are
  // looked up when a step uses the material: a handbook may name groups that this coin does not have.
  for (const Node* file : files) {
    files_.push_back(file->at.source->name());
    const Entry* list = file->find("materials");
    if (list == nullptr || list->value.kind != Node::Kind::mapping) continue;
    for (const Entry& entry : list->value.entries) {
      if (entry.value.refused || entry.value.kind != Node::Kind::mapping) continue;
      const Fields fields(entry.value, below("materials", entry.key));
      Material& material = materials_[entry.key];
      for (const std::string& property : property_names) {
        const Entry* value = entry.value.find(property);
        if (value == nullptr) continue;
        material.properties[property] = &value->value;
      }
      if (const Node* node = fields["composition"]) {
        const std::size_t before = context.findings.errors();
        composition(*node, fields.path("composition"), context);
        if (context.findings.errors() > before) node->refused = true;
        material.composition = node;
      }
      if (const std::string source = fields.text("source"); !source.empty()) material.source = source;
    }
  }
  const bool known = context.groups_known;
  context.groups_known = false;
  for (auto& [name, material] : materials_)
    for (const auto& [property, node] : material.properties) {
      if (node->refused) continue;
      const std::size_t before = context.findings.errors();
      const std::string path = fmt::format("materials.{}.{}", name, property);
      read_quantity(*node, property_rule(property), path, "", context);
      if (context.findings.errors() > before) node->refused = true;
    }
  context.groups_known = known;
  read_pairs(files, context);
}

void Handbook::read_pairs(std::span<const Node* const> files, Context& context) {
  std::set<std::string> elements;
  for (const auto& [name, material] : materials_)
    if (material.composition)
      for (const Entry& entry : material.composition->entries) elements.insert(entry.key);
  for (const Node* file : files)
    for (materials::DiffusionPair& pair : read_diffusion(*file, elements, context)) {
      std::erase_if(boundaries_, [&](const auto& earlier) { return earlier->pair().is_of(pair.slow, pair.quick); });
      boundaries_.push_back(std::make_shared<const materials::BlurredBoundary>(std::move(pair)));
    }
}

bool Handbook::sound(const Context& context) const {
  return complete_ && std::all_of(files_.begin(), files_.end(),
                                  [&](const std::string& file) { return context.findings.sound(file); });
}

const Material* Handbook::find(const std::string& name, At at, const std::string& path, Context& context) const {
  if (const auto found = materials_.find(name); found != materials_.end()) return &found->second;
  if (!complete_) return nullptr;
  std::vector<std::string> known;
  for (const auto& [other, material] : materials_) known.push_back(other);
  context.findings.error(at, path, fmt::format("`{}` is no material of the handbook", name), suggest(name, known));
  return nullptr;
}

std::vector<materials::Constituent> Handbook::composition(const Node& node, const std::string& path, Context& context) {
  std::vector<materials::Constituent> made;
  double sum = 0;
  const QuantityRule part{.name = "part",
                          .dimensions = {dimension::pure},
                          .smallest = 0,
                          .largest = 1,
                          .smallest_excluded = true,
                          .why = "it lies between 0 and 100 % of the mass"};
  for (const Entry& entry : node.entries) {
    if (entry.value.refused) continue;
    const Fields f(entry.value, below(path, entry.key));
    materials::Constituent one{entry.key, 1.0, 0};
    if (!materials::molar_mass(entry.key)) {
      std::string all;
      for (const std::string& symbol : materials::known_elements()) all += (all.empty() ? "" : ", ") + symbol;
      context.findings.error(entry.at, path, fmt::format("`{}` is no element known here", entry.key),
                             "Known are " + all + ".");
    }
    if (const Node* stated = f["part"])
      one.part = read_constant(*stated, part, f.path("part"), context).value_or(Constant{1.0, {}}).value;
    else if (node.entries.size() > 1 && !f.stands("part"))
      context.findings.error(entry.at, f.path(), "an alloy needs the part of each element", "Add `part: 70 %`.");
    if (const Node* stated = f["valence"]) {
      const double valence = read_number(*stated, f.path("valence"), context).value_or(1);
      if (!(valence >= 1 && valence <= 8 && valence == std::floor(valence)))
        context.findings.error(stated->at, f.path("valence"), "a valence is a whole number from 1 to 8",
                               "It is the number of electrons that deposit one atom: 2 for Ni(II).");
      one.valence = static_cast<int>(valence);
    }
    sum += one.part;
    made.push_back(std::move(one));
  }
  if (std::abs(sum - 1.0) > 0.002)
    context.findings.error(node.at, path, fmt::format("the parts add up to {:.4g} %, not to 100 %", sum * 100), "");
  return made;
}

route::Metal Handbook::metal(const Fields& step, const std::string& step_name, Context& context) const {
  route::Metal metal;
  metal.name = step.text("material");
  const Node* name = step["material"];
  const Material* material = name ? find(metal.name, name->at, step.path("material"), context) : nullptr;
  if (const Node* own = step["composition"])
    metal.composition = composition(*own, step.path("composition"), context);
  else if (material && material->composition && !material->composition->refused && !step.stands("composition"))
    metal.composition =
        composition(*material->composition, fmt::format("materials.{}.composition", metal.name), context);
  const std::array<InputId*, 4> ids = {&metal.conductivity, &metal.permeability, &metal.density,
                                       &metal.temperature_coefficient};
  for (std::size_t i = 0; i < property_names.size(); ++i) {
    const std::string& property = property_names[i];
    const std::string path = step.path(property);
    if (step.stands(property)) {
      if (const Node* own = step[property])
        if (auto input = read_quantity(*own, property_rule(property), path, step_name, context))
          *ids[i] = context.add(std::move(*input));
      continue;
    }
    if (material == nullptr) continue;
    const auto found = material->properties.find(property);
    if (found == material->properties.end()) {
      context.findings.error(name->at, step.path("material"),
                             fmt::format("the handbook tells no {} of `{}`", property, metal.name),
                             fmt::format("Add it there, or state `{}` here.", property));
      continue;
    }
    const Node& node = *found->second;
    if (node.refused) continue;
    context.located(path, node.at);
    auto input = read_quantity(node, property_rule(property), path, step_name, context,
                               fmt::format("materials.{}.{}", metal.name, property));
    if (!input) continue;
    if (input->basis == study::Basis::unstated) {
      input->basis = study::Basis::handbook;
      input->basis_note = material->source;
    }
    input->understood += fmt::format(", of {} in the handbook", metal.name);
    *ids[i] = context.add(std::move(*input));
  }
  return metal;
}

std::optional<double> Handbook::nominal(const std::string& name, At at, const std::string& path,
                                        const std::string& property, Context& context) const {
  const Material* material = find(name, at, path, context);
  if (material == nullptr) return std::nullopt;
  const auto found = material->properties.find(property);
  if (found == material->properties.end()) {
    context.findings.error(at, path, fmt::format("the handbook tells no {} of `{}`", property, name),
                           fmt::format("Add it there, or state `{}` here.", property));
    return std::nullopt;
  }
  if (found->second->refused) return std::nullopt;
  const bool known = context.groups_known;
  context.groups_known = false;
  const auto input = read_quantity(*found->second, property_rule(property),
                                   fmt::format("materials.{}.{}", name, property), "", context);
  context.groups_known = known;
  return input ? std::optional(input->nominal) : std::nullopt;
}

}  // namespace mintspread::specs
