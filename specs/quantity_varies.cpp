#include "specs/quantity_varies.hpp"

#include <fmt/format.h>

#include "specs/spread.hpp"

namespace mintspread::specs {

namespace {

/// One entry of `varies`.
std::optional<FurtherComponent> read_component(const Node& item, double nominal, const MeasuredUnit& unit,
                                               const StatementReader& reader) {
  const auto read = quantity_text(item.text);
  if (const auto* fault = std::get_if<TextFault>(&read)) {
    reader.error(item, "varies", *fault);
    return std::nullopt;
  }
  const QuantityText& q = std::get<QuantityText>(read);
  const bool range = q.spread == WrittenSpread::range;
  if (q.value && (q.spread == WrittenSpread::symmetric || q.spread == WrittenSpread::two_sided)) {
    reader.error(item.at, "varies", "a further component has no value of its own",
                 "State its spread alone: a standard deviation, or `+/-` a tolerance.");
    return std::nullopt;
  }
  SpreadStatement statement;
  statement.nominal = nominal;
  statement.range = range;
  std::vector<const WrittenNumber*> numbers = {q.spread == WrittenSpread::none ? &*q.value : &q.tolerance};
  WrittenNumber lower = q.spread == WrittenSpread::two_sided ? q.below : q.value.value_or(q.tolerance);
  if (range && !lower.has_unit) lower.measured = q.tolerance.measured, lower.has_unit = q.tolerance.has_unit;
  if (q.spread == WrittenSpread::two_sided || range) numbers.push_back(&lower);
  std::vector<Stretch> sizes;
  for (const WrittenNumber* number : numbers) {
    const auto size = stretch_of(*number, unit);
    if (const auto* fault = std::get_if<TextFault>(&size)) {
      reader.error(item, "varies", *fault);
      return std::nullopt;
    }
    sizes.push_back(std::get<Stretch>(size));
    if (sizes.back().relative && !(nominal > 0)) {
      reader.error(item.at_byte(number->at), "varies", "a percentage of a value that is not above zero is no spread",
                   "State it in the unit of the value.");
      return std::nullopt;
    }
    if (sizes.back().relative != sizes.front().relative) {
      reader.error(item.at_byte(number->at), "varies", "one number is in per cent of the value and the other is not",
                   "Write both alike.");
      return std::nullopt;
    }
  }
  switch (q.spread) {
    case WrittenSpread::none:
      statement.sd = sizes[0];
      break;
    case WrittenSpread::symmetric:
      statement.tolerance = Tolerance{sizes[0].size, sizes[0].size, sizes[0].relative};
      break;
    case WrittenSpread::two_sided:
      statement.tolerance = Tolerance{sizes[1].size, sizes[0].size, sizes[0].relative};
      break;
    case WrittenSpread::range:
      statement.tolerance = Tolerance{-sizes[1].size, sizes[0].size, sizes[0].relative};
      if (!(sizes[1].size <= 0 && sizes[0].size >= 0 && sizes[1].size < sizes[0].size)) {
        reader.error(item.at, "varies", "a range of deviations begins below zero and ends above it",
                     "Write it like `-1 .. 1 um`.");
        return std::nullopt;
      }
  }
  const auto spread = read_spread(statement, [&](double size) { return told_spread(size, unit.unit); });
  if (const auto* fault = std::get_if<StatementFault>(&spread)) {
    reader.error(item.at, "varies", fault->what, fault->remedy);
    return std::nullopt;
  }
  const SpreadReading& found = *std::get<std::optional<SpreadReading>>(spread);
  const auto level = q.level.empty() ? std::optional(reader.rule().level)
                                     : reader.context().level(q.level, item.at_byte(q.level_at), reader.path());
  if (!level) return std::nullopt;
  return FurtherComponent{{found.deviation, found.relative, *level}, found.words};
}

}  // namespace

std::optional<std::vector<FurtherComponent>> read_varies(const Node& node, double nominal, const MeasuredUnit& unit,
                                                         const StatementReader& reader) {
  std::vector<FurtherComponent> all;
  bool sound = true;
  const auto one = [&](const Node& item) {
    auto read = item.refused ? std::nullopt : read_component(item, nominal, unit, reader);
    sound = sound && read;
    if (read) all.push_back(std::move(*read));
  };
  if (node.kind == Node::Kind::list)
    for (const Node& item : node.items) one(item);
  else
    one(node);
  return sound ? std::optional(std::move(all)) : std::nullopt;
}

}  // namespace mintspread::specs
