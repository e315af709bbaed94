#include "specs/statement.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "specs/constant.hpp"

namespace mintspread::specs {

void StatementReader::error(At at, const std::string& key, const std::string& what, const std::string& remedy) const {
  context_.findings.error(at, key.empty() ? path_ : below(path_, key), what, remedy);
}

void StatementReader::error(const Node& node, const std::string& key, const TextFault& fault) const {
  error(node.at_byte(fault.at), key, fault.what, fault.remedy);
}

void StatementReader::error(const Fields* fields, const Node& otherwise, const StatementFault& fault) const {
  const Entry* entry = fields ? fields->node().find(fault.key) : nullptr;
  error(entry ? entry->value.at : otherwise.at, entry ? fault.key : "", fault.what, fault.remedy);
}

std::optional<QuantityText> StatementReader::text(const Node& node, const std::string& key) const {
  const auto read = quantity_text(node.text);
  if (const auto* fault = std::get_if<TextFault>(&read)) {
    error(node, key, *fault);
    return std::nullopt;
  }
  return std::get<QuantityText>(read);
}

std::string StatementReader::examples() const {
  std::string all;
  for (const Dimension& d : rule_.dimensions) all += (all.empty() ? "`" : " or `") + example_of(d) + "`";
  return all;
}

bool StatementReader::dimension_fits(const Node& node, const WrittenNumber& number, const std::string& key) const {
  if (std::find(rule_.dimensions.begin(), rule_.dimensions.end(), number.measured.dimension) != rule_.dimensions.end())
    return true;
  std::string wanted;
  for (const Dimension& d : rule_.dimensions) wanted += (wanted.empty() ? "" : " or ") + name_of(d);
  const At at = node.at_byte(number.has_unit ? number.unit_at : number.at);
  if (number.has_unit)
    error(at, key, fmt::format("{} stands here, where {} is wanted", name_of(number.measured.dimension), wanted),
          fmt::format("Write it like {}.", examples()));
  else
    error(at, key, fmt::format("no unit stands after this number, but it is {}", wanted),
          fmt::format("Write it like {}.", examples()));
  return false;
}

bool StatementReader::within_bounds(double value, const Unit& unit, At at, const std::string& what) const {
  const bool low = rule_.smallest_excluded ? value <= rule_.smallest : value < rule_.smallest;
  if (!low && value <= rule_.largest) return true;
  const std::string why = rule_.why.empty() ? "" : fmt::format(": {}", rule_.why);
  error(at, "",
        fmt::format("{} is {}, {} {}{}", what, told(value, unit),
                    low ? (rule_.smallest_excluded ? "but must be above" : "below") : "above",
                    told(low ? rule_.smallest : rule_.largest, unit), why),
        "");
  return false;
}

std::optional<StatedValue> StatementReader::value(const Node& node) const {
  const std::string no_key;
  auto read = text(node, no_key);
  if (!read) return std::nullopt;
  QuantityText& q = *read;
  if (!q.value) {
    if (!rule_.deviation_only) {
      error(node.at, no_key, "a tolerance stands here without the value it belongs to", "Write `VALUE +/- TOLERANCE`.");
      return std::nullopt;
    }
    q.value = WrittenNumber{0, q.tolerance.measured, q.tolerance.has_unit, q.tolerance.at, q.tolerance.unit_at};
  }
  WrittenNumber& v = *q.value;
  // One unit may serve both numbers: `18 +/- 2 um`, `16 .. 20 um`.
  const bool lends = q.spread != WrittenSpread::none && q.tolerance.has_unit &&
                     (q.spread == WrittenSpread::range || q.tolerance.measured.unit.name != "%");
  if (!v.has_unit && lends) v.measured = q.tolerance.measured, v.has_unit = true, v.unit_at = q.tolerance.unit_at;
  if (!dimension_fits(node, v, no_key)) return std::nullopt;

  StatedValue out{v.measured, to_si(v.value, v.measured.unit), false, std::nullopt,
                  q.level,    node.at_byte(q.level_at),        q.head};
  const At at = node.at_byte(v.at);
  if (q.spread == WrittenSpread::range) {
    if (!q.tolerance.has_unit && v.has_unit) {
      error(node.at_byte(q.tolerance.at), no_key, "no unit stands after the upper end of the range",
            "The last unit serves both ends.");
      return std::nullopt;
    }
    if (!dimension_fits(node, q.tolerance, no_key)) return std::nullopt;
    const double lower = out.nominal, upper = to_si(q.tolerance.value, q.tolerance.measured.unit);
    if (!(lower < upper)) {
      error(at, no_key, fmt::format("the range begins at {}, which is not below its end", told(lower, v.measured.unit)),
            "Write `LOWER .. UPPER`.");
      return std::nullopt;
    }
    out.nominal = 0.5 * (lower + upper);
    out.range = true;
    out.tolerance = Tolerance{0.5 * (upper - lower), 0.5 * (upper - lower), false};
    if (!within_bounds(lower, v.measured.unit, at, "the lower limit")) return std::nullopt;
    if (!within_bounds(upper, v.measured.unit, node.at_byte(q.tolerance.at), "the upper limit")) return std::nullopt;
    return out;
  }
  if (!within_bounds(out.nominal, v.measured.unit, at, "the value")) return std::nullopt;
  if (q.spread == WrittenSpread::none) return out;

  const auto above = stretch_of(q.tolerance, v.measured);
  const auto below_value = q.spread == WrittenSpread::two_sided ? stretch_of(q.below, v.measured) : above;
  for (const auto* side : {&above, &below_value})
    if (const auto* fault = std::get_if<TextFault>(side)) {
      error(node, no_key, *fault);
      return std::nullopt;
    }
  const Stretch up = std::get<Stretch>(above), down = std::get<Stretch>(below_value);
  if (up.relative != down.relative) {
    error(node.at_byte(q.tolerance.at), no_key, "one deviation is in per cent of the value and the other is not",
          "Write both alike.");
    return std::nullopt;
  }
  if (up.relative && !(out.nominal > 0)) {
    error(node.at_byte(q.tolerance.at), no_key, "a percentage of a value that is not above zero is no tolerance",
          "State the tolerance in the unit of the value.");
    return std::nullopt;
  }
  out.tolerance = Tolerance{down.size, up.size, up.relative};
  const double scale = up.relative ? out.nominal : 1;
  if (!within_bounds(out.nominal - down.size * scale, v.measured.unit, node.at_byte(q.tolerance.at), "the lower limit"))
    return std::nullopt;
  if (!within_bounds(out.nominal + up.size * scale, v.measured.unit, node.at_byte(q.tolerance.at), "the upper limit"))
    return std::nullopt;
  return out;
}

std::optional<StatedValue> StatementReader::range(const Node& node) const {
  auto read = value(node);
  if (!read) return std::nullopt;
  if (!read->range) {
    error(node.at, "known to", "this is not a range", "Write `LOWER .. UPPER`.");
    return std::nullopt;
  }
  if (!read->level.empty()) {
    error(read->level_at, "known to", "what is known is fixed in the plant and varies per nothing",
          "State a spread in `value` or `varies`.");
    return std::nullopt;
  }
  return read;
}

std::optional<Stretch> StatementReader::stretch(const Node& node, const std::string& key,
                                                const MeasuredUnit& unit) const {
  const auto read = text(node, key);
  if (!read) return std::nullopt;
  if (!read->value || read->spread != WrittenSpread::none || !read->level.empty()) {
    error(node.at, key, "only a single number with its unit can stand here", "");
    return std::nullopt;
  }
  const auto out = stretch_of(*read->value, unit);
  if (const auto* fault = std::get_if<TextFault>(&out)) {
    error(node, key, *fault);
    return std::nullopt;
  }
  return std::get<Stretch>(out);
}

std::optional<double> StatementReader::fraction(const Node& node, const std::string& key) const {
  const auto read = text(node, key);
  if (!read) return std::nullopt;
  if (!read->value || read->spread != WrittenSpread::none || !read->level.empty() ||
      read->value->measured.dimension != dimension::pure) {
    error(node.at, key, "a fraction stands here, and nothing else", "Write it like `70 %`.");
    return std::nullopt;
  }
  return read->value->value * read->value->measured.unit.scale;
}

std::optional<MeasuredUnit> StatementReader::unit(const Node& node, const std::string& key) const {
  const auto read = unit_text(node.text);
  if (const auto* fault = std::get_if<TextFault>(&read)) {
    error(node, key, *fault);
    return std::nullopt;
  }
  const MeasuredUnit found = std::get<MeasuredUnit>(read);
  if (!dimension_fits(node, WrittenNumber{0, found, !found.unit.name.empty(), 0, 0}, key)) return std::nullopt;
  return found;
}

std::optional<SpreadStatement> StatementReader::statement(const Fields* fields, const StatedValue& value) const {
  SpreadStatement out;
  out.nominal = value.nominal;
  out.range = value.range;
  out.tolerance = value.tolerance;
  if (fields == nullptr) return out;
  const Fields& f = *fields;
  bool sound = true;
  const auto number = [&](const std::string& key, std::optional<double>& to) {
    if (const Node* node = f[key]) sound = (to = read_number(*node, below(path_, key), context_)) && sound;
  };
  const auto distance = [&](const std::string& key, std::optional<Stretch>& to) {
    if (const Node* node = f[key]) sound = (to = stretch(*node, key, value.unit)) && sound;
  };
  out.shape = f.text("shape");
  out.sorted = f.text("sorted") == "true";
  distance("sd", out.sd);
  distance("edge", out.edge);
  number("capability", out.capability);
  number("degrees of freedom", out.degrees_of_freedom);
  if (const Node* node = f["coverage"]) sound = (out.coverage = fraction(*node, "coverage")) && sound;
  if (out.sd && out.sd->relative && !(value.nominal > 0)) {
    error(f["sd"]->at, "sd", "a percentage of a value that is not above zero is no spread",
          "State it in the unit of the value.");
    sound = false;
  }
  for (const char* key : {"shape", "sd", "edge", "capability", "degrees of freedom", "coverage", "sorted"})
    sound = sound && f.stands(key) == (f[key] != nullptr);
  return sound ? std::optional(out) : std::nullopt;
}

}  // namespace mintspread::specs
