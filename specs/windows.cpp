#include "specs/windows.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "engine/signature/expression.hpp"
#include "specs/check.hpp"
#include "specs/quantity.hpp"
#include "specs/spread.hpp"

namespace mintspread::specs {

namespace {

constexpr double infinite = std::numeric_limits<double>::infinity();

/// `>= a`, `<= b` or `a .. b`, as numbers with their units.
struct LimitsText {
  std::optional<WrittenNumber> lower, upper;
};

std::variant<LimitsText, TextFault> limits_text(std::string_view text) {
  const std::size_t first = text.find_first_not_of(" \t");
  const std::string_view inner = trimmed(text);
  const bool least = inner.starts_with(">="), most = inner.starts_with("<=");
  if (!least && !most && !inner.empty() && (inner[0] == '>' || inner[0] == '<' || inner[0] == '='))
    return TextFault{first, "limits include their ends", "Write `>= a`, `<= b` or `a .. b`."};
  const std::size_t skip = least || most ? first + 2 : 0;
  const auto read = quantity_text(text.substr(skip));
  if (const auto* fault = std::get_if<TextFault>(&read)) return TextFault{skip + fault->at, fault->what, fault->remedy};
  QuantityText q = std::get<QuantityText>(read);
  if (!q.level.empty()) return TextFault{skip + q.level_at, "a limit does not vary", "Leave `per` out."};
  const auto moved = [&](WrittenNumber number) {
    number.at += skip;
    number.unit_at += skip;
    return number;
  };
  if (least || most) {
    if (q.spread != WrittenSpread::none)
      return TextFault{skip, "one number stands behind `>=` or `<=`", "Write `a .. b` for two limits."};
    return least ? LimitsText{moved(*q.value), std::nullopt} : LimitsText{std::nullopt, moved(*q.value)};
  }
  if (q.spread != WrittenSpread::range)
    return TextFault{first == std::string_view::npos ? 0 : first, "these are no limits",
                     "Write `>= a`, `<= b` or `a .. b`."};
  // The last unit serves both ends.
  if (!q.value->has_unit && q.tolerance.has_unit) q.value->measured = q.tolerance.measured, q.value->has_unit = true;
  return LimitsText{moved(*q.value), moved(q.tolerance)};
}

}  // namespace

std::optional<study::Limits> read_limits(const Node& node, const Unit& unit, const std::optional<Dimension>& dimension,
                                         const std::string& path, Context& context) {
  const auto error = [&](std::size_t at, const std::string& what, const std::string& remedy) {
    context.findings.error(node.at_byte(at), path, what, remedy);
  };
  const auto read = limits_text(node.text);
  if (const auto* fault = std::get_if<TextFault>(&read)) {
    error(fault->at, fault->what, fault->remedy);
    return std::nullopt;
  }
  const LimitsText& text = std::get<LimitsText>(read);
  study::Limits out;
  for (const auto& [number, to] : {std::pair{&text.lower, &out.lower}, {&text.upper, &out.upper}}) {
    if (!*number) continue;
    const WrittenNumber& n = **number;
    if (!n.has_unit) {
      *to = n.value;
      continue;
    }
    if (!dimension) {
      error(n.unit_at, "the limits of an expression are numbers without unit", "Leave the unit out.");
      return std::nullopt;
    }
    if (n.measured.dimension != *dimension) {
      error(n.unit_at,
            fmt::format("{} stands here, but the channel is read in {}", name_of(n.measured.dimension),
                        unit.name.empty() ? "a pure number" : "`" + unit.name + "`"),
            unit.name.empty() ? "Leave the unit out." : "");
      return std::nullopt;
    }
    *to = unit.from_si(to_si(n.value, n.measured.unit));
  }
  if (out.lower > out.upper) {
    error(0,
          fmt::format("no coin can meet this: the lower limit {} is above the upper one, {}",
                      short_number(out.lower, 6), short_number(out.upper, 6)),
          "Write `LOWER .. UPPER`.");
    return std::nullopt;
  }
  if (out.lower == out.upper)
    context.findings.warning(node.at, path, "both limits are equal, so only this one reading is accepted", "");
  return out;
}

namespace {

/// Values that cannot be negative, whatever the coin.
bool never_negative(const signature::Channel& channel) {
  using signature::Value;
  return !channel.scale &&
         (channel.value == Value::magnitude || channel.value == Value::apparent_conductivity ||
          channel.value == Value::rim_thickness || channel.value == Value::diameter || channel.value == Value::mass);
}

class ClassReader {
 public:
  ClassReader(const Fields& fields, const std::string& name, const std::string& file, const Node* sensor,
              Context& context)
      : fields_(fields), sensor_(sensor), context_(context), channels_(context.model.sensor.channels) {
    set_.machine_class = name;
    set_.file = file;
    for (const signature::Channel& channel : channels_) names_.push_back(channel.name);
  }

  study::WindowSet read() {
    if (const Node* windows = fields_["windows"])
      for (const Entry& entry : windows->entries)
        if (!entry.value.refused) window(entry);
    if (const Node* relations = fields_["relations"])
      for (const Entry& entry : relations->entries)
        if (!entry.value.refused) relation(entry);
    if (!fields_.stands("windows") && !fields_.stands("relations"))
      context_.findings.error(fields_.node().at, fields_.path(),
                              "this class has neither windows nor relations, so it would accept everything",
                              "State its `windows`.");
    return std::move(set_);
  }

 private:
  void window(const Entry& entry) {
    const std::string path = below(fields_.path("windows"), entry.key);
    const auto found = std::find(names_.begin(), names_.end(), entry.key);
    if (found == names_.end()) {
      if (sensor_ && !refused_channel(entry.key))
        context_.findings.error(entry.at, path, fmt::format("`{}` is no channel of the sensor", entry.key),
                                suggest(entry.key, names_));
      return;
    }
    const auto position = static_cast<std::size_t>(found - names_.begin());
    const signature::Channel& channel = channels_[position];
    const auto own = unit_text(channel.unit.name);
    const auto limits =
        read_limits(entry.value, channel.unit,
                    std::holds_alternative<MeasuredUnit>(own) ? std::get<MeasuredUnit>(own).dimension : Dimension{},
                    path, context_);
    if (!limits) return;
    if (never_negative(channel) && limits->upper < 0)
      context_.findings.error(entry.value.at, path, "no coin can meet this: the channel is never below zero", "");
    set_.criteria.push_back({entry.key, path, position, "", *limits});
  }

  void relation(const Entry& entry) {
    const std::string path = below(fields_.path("relations"), entry.key);
    const Fields f(entry.value, path);
    const Node *expression = f["expression"], *limits_node = f["limits"];
    if (expression && sensor_ && names_.size() == channels_in_file()) {
      try {
        signature::Expression(single_blanks(expression->text), names_, f.path("expression"));
      } catch (const InvalidSpecification& invalid) {
        for (const Problem& problem : invalid.problems())
          context_.findings.error(expression->at, f.path("expression"), problem.what, problem.remedy);
      }
    }
    const auto limits =
        limits_node ? read_limits(*limits_node, {}, std::nullopt, f.path("limits"), context_) : std::nullopt;
    if (expression && limits)
      set_.criteria.push_back({entry.key, path, std::nullopt, single_blanks(expression->text), *limits});
  }

  const Node* channel_list() const {
    const Entry* channels = sensor_ ? sensor_->find("channels") : nullptr;
    return channels ? &channels->value : nullptr;
  }
  std::size_t channels_in_file() const { return channel_list() ? channel_list()->entries.size() : 0; }
  bool refused_channel(const std::string& name) const {
    return channel_list() == nullptr || channel_list()->find(name) != nullptr;
  }

  const Fields& fields_;
  const Node* sensor_;
  Context& context_;
  const std::vector<signature::Channel>& channels_;
  std::vector<std::string> names_;
  study::WindowSet set_;
};

}  // namespace

void read_windows(const Node& root, const Node* sensor, Context& context) {
  const Entry* classes = root.find("classes");
  if (classes == nullptr || classes->value.refused || classes->value.kind != Node::Kind::mapping) return;
  for (const Entry& entry : classes->value.entries) {
    if (entry.value.refused) continue;
    const auto& known = context.model.windows;
    const auto same = std::find_if(known.begin(), known.end(),
                                   [&](const study::WindowSet& set) { return set.machine_class == entry.key; });
    const std::string path = below("windows", entry.key);
    if (same != known.end()) {
      context.findings.error(entry.at, path, fmt::format("the class `{}` stands in `{}` too", entry.key, same->file),
                             "Give one of them another name.");
      continue;
    }
    const Fields fields(entry.value, path);
    context.model.windows.push_back(ClassReader(fields, entry.key, root.at.source->name(), sensor, context).read());
  }
}

void read_targets(const Node& targets, bool windows_known, Context& context) {
  std::vector<std::string> classes;
  for (const study::WindowSet& set : context.model.windows) classes.push_back(set.machine_class);
  for (const Entry& entry : targets.entries) {
    if (entry.value.refused) continue;
    const std::string path = below("targets", entry.key), by = "accepted by ";
    std::string name;
    if (entry.key.starts_with(by)) {
      name = entry.key.substr(by.size());
      if (windows_known && std::find(classes.begin(), classes.end(), name) == classes.end()) {
        context.findings.error(entry.at, path, fmt::format("`{}` is no class of the window files", name),
                               suggest(name, classes));
        continue;
      }
    } else if (entry.key != "accepted") {
      context.findings.error(entry.at, path, fmt::format("`{}` is no target", entry.key),
                             "Write `accepted`, or `accepted by` and the name of a class.");
      continue;
    } else if (windows_known && classes.empty()) {
      context.findings.error(entry.at, path, "there are no windows that coins could be accepted by",
                             "Name a window file in `windows`.");
      continue;
    }
    const auto read = limits_text(entry.value.text);
    if (const auto* fault = std::get_if<TextFault>(&read)) {
      context.findings.error(entry.value.at_byte(fault->at), path, fault->what, fault->remedy);
      continue;
    }
    const LimitsText& text = std::get<LimitsText>(read);
    if (!text.lower || text.upper || text.lower->measured.dimension != dimension::pure) {
      context.findings.error(entry.value.at, path, "a target is a least fraction accepted",
                             "Write it like `>= 99.9 %`.");
      continue;
    }
    const double fraction = text.lower->value * text.lower->measured.unit.scale;
    if (!(fraction > 0) || !(fraction < 1)) {
      context.findings.error(
          entry.value.at_byte(text.lower->at), path,
          "a fraction accepted lies between 0 and 100 %, both excluded, since no sample proves either",
          "Write it like `>= 99.9 %`.");
      continue;
    }
    context.model.targets.push_back(
        {fmt::format("{} {}", entry.key, single_blanks(entry.value.text)), path, name, fraction});
  }
}

}  // namespace mintspread::specs
