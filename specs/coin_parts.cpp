#include "specs/coin_parts.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <variant>
#include <vector>

#include "engine/route/check.hpp"
#include "specs/constant.hpp"

namespace mintspread::specs {

QuantityRule length_rule(const char* name, const char* subject, const char* why, bool zero_allowed, const char* place) {
  return {.name = name,
          .dimensions = {dimension::length},
          .smallest = 0,
          .smallest_excluded = !zero_allowed,
          .why = why,
          .subject = subject,
          .place = place};
}

namespace {

const QuantityRule rim_height_up =
    length_rule("rim height up", "rim height on the obverse", "a rim does not lie below the field", true);
const QuantityRule rim_height_down =
    length_rule("rim height down", "rim height on the reverse", "a rim does not lie below the field", true);

}  // namespace

InputId add_quantity(Context& context, const Fields& f, const std::string& key, const QuantityRule& rule,
                     const std::string& step, std::optional<double> otherwise, const Unit& unit) {
  const std::string path = f.path(key);
  if (const Node* node = f[key]) {
    auto input = read_quantity(*node, rule, path, step, context);
    return input ? context.add(std::move(*input)) : InputId{};
  }
  if (f.stands(key) || !otherwise) return {};
  const std::string subject = rule.subject.empty() ? rule.name : rule.subject;
  return context.add(constant_input(rule, path, step, *otherwise, unit,
                                    fmt::format("{}: exact, {}, not stated", told(*otherwise, unit), subject)));
}

void read_rim_height(const Fields& f, const std::string& step, Context& context, InputId& up, InputId& down) {
  if (f.stands("rim height") && f["rim height"] == nullptr) return;
  Node none;
  none.kind = Node::Kind::mapping;
  none.at = f.node().at;
  const Node* node = f["rim height"];
  const Fields height(node ? *node : none, f.path("rim height"));
  const Unit mm{"mm", 1e-3, 0};
  up = add_quantity(context, height, "up", rim_height_up, step, 0.0, mm);
  down = add_quantity(context, height, "down", rim_height_down, step, 0.0, mm);
}

bool sound(const Node& node, const Handbook& handbook, const Context& context) {
  return handbook.sound(context) && context.findings.sound(node.at.source->name());
}

void check_nominal(const Node& node, const Handbook& handbook, Context& context) {
  // So that it says nothing strange of what could not be read.
  if (!sound(node, handbook, context)) return;
  Columns nominal(context.model.inputs.size(), 8);
  for (std::size_t i = 0; i < context.model.inputs.size(); ++i)
    std::ranges::fill(nominal[i], context.model.inputs[i].nominal);
  std::vector<Problem> problems, warnings;
  std::visit([&](const auto& coin) { route::check(coin, nominal, problems, warnings); }, context.model.coin);
  for (const Problem& problem : problems) context.report(problem, node.at);
}

}  // namespace mintspread::specs
