#include "tools/program/fit_numbers.hpp"

#include <fmt/format.h>

#include "tools/program/examination.hpp"

namespace mintspread::program {

namespace {

specs::QuantityText written(const std::string& option, const std::string& text) {
  const auto found = specs::quantity_text(text);
  if (const auto* fault = std::get_if<specs::TextFault>(&found))
    throw UsageError(fmt::format("fit: {} '{}': {}. {}", option, text, fault->what, fault->remedy));
  return std::get<specs::QuantityText>(found);
}

}  // namespace

specs::MeasuredUnit fit_unit(const std::string& text, const std::string& where) {
  const auto read = specs::unit_text(text);
  if (const auto* fault = std::get_if<specs::TextFault>(&read))
    throw Rejected(fmt::format("the unit {}: {}; state it with --unit", where, fault->what));
  return std::get<specs::MeasuredUnit>(read);
}

specs::Stretch FitNumbers::stretch(const std::string& option, const std::string& text) const {
  const specs::QuantityText found = written(option, text);
  if (!found.value || found.spread != specs::WrittenSpread::none || !found.level.empty())
    throw UsageError(fmt::format("fit: {} takes one number, as in '0.2 um' or '2 %', not '{}'", option, text));
  if (found.value->has_unit && found.value->measured.unit.name == "%" && unit_.unit.name != "%")
    return {found.value->value / 100.0, true};
  return {told(option, text, *found.value, Meant::distance), false};
}

double FitNumbers::told(const std::string& option, const std::string& text, const specs::WrittenNumber& number,
                        Meant meant) const {
  if (!number.has_unit) return number.value;
  if (number.measured.dimension != unit_.dimension)
    throw UsageError(fmt::format("fit: {} '{}' is {}, but the column is {}", option, text,
                                 specs::name_of(number.measured.dimension), specs::name_of(unit_.dimension)));
  return meant == Meant::distance ? number.value * number.measured.unit.scale / unit_.unit.scale
                                  : unit_.unit.from_si(specs::to_si(number.value, number.measured.unit));
}

measured::Kept FitNumbers::limits(const std::string& option, const std::string& text) const {
  const specs::QuantityText found = written(option, text);
  if (found.spread != specs::WrittenSpread::range || !found.value)
    throw UsageError(fmt::format("fit: {} takes limits, as in '16 um .. 20 um', not '{}'", option, text));
  specs::WrittenNumber lower = *found.value;
  const specs::WrittenNumber upper = found.tolerance;
  if (!lower.has_unit) lower.measured = upper.measured, lower.has_unit = upper.has_unit;
  const measured::Kept kept{told(option, text, lower, Meant::place), told(option, text, upper, Meant::place)};
  if (!(kept.lower < kept.upper))
    throw UsageError(fmt::format("fit: {} '{}' leaves nothing between its limits", option, text));
  return kept;
}

}  // namespace mintspread::program
