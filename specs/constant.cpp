#include "specs/constant.hpp"

#include <fmt/format.h>

#include "specs/number.hpp"
#include "specs/statement.hpp"

namespace mintspread::specs {

study::Input constant_input(const QuantityRule& rule, const std::string& path, const std::string& step, double value,
                            const Unit& unit, const std::string& understood) {
  study::Input input;
  input.path = path;
  input.step = step;
  input.name = rule.name;
  input.unit = unit;
  input.nominal = value;
  input.smallest = rule.smallest;
  input.largest = rule.largest;
  input.understood = understood;
  return input;
}

std::optional<Constant> read_constant(const Node& node, const QuantityRule& rule, const std::string& path,
                                      Context& context) {
  if (node.refused) return std::nullopt;
  const StatementReader reader(rule, path, context);
  const auto value = reader.value(node);
  if (!value) return std::nullopt;
  if (value->tolerance || !value->level.empty()) {
    context.findings.error(node.at, path,
                           fmt::format("{} is constant in this version and takes no tolerance", rule.name),
                           "Write the value alone.");
    return std::nullopt;
  }
  return Constant{value->nominal, value->unit.unit};
}

std::optional<double> read_number(const Node& node, const std::string& path, Context& context) {
  if (node.refused) return std::nullopt;
  const auto number = whole_number_text(node.text);
  if (const auto* fault = std::get_if<TextFault>(&number)) {
    context.findings.error(node.at_byte(fault->at), path, fault->what, fault->remedy);
    return std::nullopt;
  }
  return std::get<double>(number);
}

}  // namespace mintspread::specs
