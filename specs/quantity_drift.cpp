#include "specs/quantity_drift.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "specs/number.hpp"

namespace mintspread::specs {

std::optional<DriftReading> read_drift(const Node& node, bool spread, std::size_t level,
                                       const StatementReader& reader) {
  Context& context = reader.context();
  const auto refuse = [&](const std::string& what, const std::string& remedy) {
    reader.error(node.at, "drift", what, remedy);
    return std::nullopt;
  };
  std::string text = single_blanks(node.text);
  study::Drift drift;
  drift.falling = text.starts_with("falling over ");
  const std::size_t over = text.find(" over ");
  if (!drift.falling && !text.starts_with("rising over "))
    return refuse("this is no drift", "Write it like `rising over die` or `falling over 12 barrel`.");
  if (!spread) return refuse("the value is said to drift, but not from where to where", "State a range or tolerance.");
  text = text.substr(over + 6);
  if (text[0] >= '0' && text[0] <= '9') {
    const std::size_t blank = std::min(text.find(' '), text.size());
    const auto count = count_text(text.substr(0, blank));
    if (const auto* fault = std::get_if<TextFault>(&count)) return refuse(fault->what, fault->remedy);
    drift.units = std::get<std::size_t>(count);
    text = text.substr(std::min(blank + 1, text.size()));
  }
  const auto group = context.level(text, node.at, reader.path());
  if (!group) return std::nullopt;
  if (*group == study::reading_level) return refuse("readings have no order to drift in", "Name a group or `piece`.");
  drift.level = *group;
  if (level != study::piece_level && level != *group)
    return refuse(fmt::format("it drifts over {}, but varies per {}", context.model.groups[*group].name,
                              context.model.groups[level].name),
                  "State the same group, or leave `per` out: the value then drifts from piece to piece.");
  if (level == *group && drift.units < 2)
    return refuse("over a single unit that shares one value nothing drifts", "State how many units it drifts over.");
  return DriftReading{drift,
                      fmt::format(", {} evenly over {}{}, then beginning anew", drift.falling ? "falling" : "rising",
                                  drift.units == 1 ? "each " : fmt::format("{} units of ", drift.units),
                                  context.model.groups[*group].name)};
}

}  // namespace mintspread::specs
