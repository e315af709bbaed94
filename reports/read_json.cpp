#include <algorithm>
#include <charconv>
#include <concepts>
#include <limits>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/problem.hpp"
#include "reports/fields.hpp"
#include "reports/json.hpp"

namespace mintspread::reports {

namespace {

using nlohmann::json;

[[noreturn]] void refuse(const std::string& place, std::string what, std::string remedy) {
  throw InvalidSpecification({Problem{place, std::move(what), std::move(remedy)}});
}

constexpr const char* rewrite = "Write the file again with `mintspread run --json`.";

// Reads one object member by member; `place` is the way to it in the file ("channels[2].reading").
class Reader {
 public:
  Reader(const json& object, std::string place) : object_(object), place_(std::move(place)) {
    if (!object_.is_object()) refuse(place_, "an object in braces must stand here", rewrite);
  }

  template <class T>
  void operator()(const char* name, T& value) const {
    if (!is_time(name) || object_.contains(name)) member(name, value);
  }

 private:
  std::string at(const char* name) const { return place_.empty() ? name : place_ + "." + name; }

  const json& required(const char* name) const {
    const auto found = object_.find(name);
    if (found == object_.end()) refuse(at(name), "this key is missing", rewrite);
    return *found;
  }

  template <class T>
  void member(const char* name, std::optional<T>& value) const {
    if (!object_.contains(name)) {
      value.reset();
    } else if constexpr (std::default_initializable<T>) {
      member(name, value.emplace());
    }
  }

  void member(const char* name, double& value) const {
    const json& node = required(name);
    if (node.is_number()) {
      value = node.get<double>();
      return;
    }
    const std::string status = std::string(name) + "_status";
    const auto found = object_.find(status);
    const std::string word = found != object_.end() && found->is_string() ? found->get<std::string>() : "";
    constexpr double infinity = std::numeric_limits<double>::infinity();
    if (node.is_null() && word == "undefined") {
      value = std::numeric_limits<double>::quiet_NaN();
    } else if (node.is_null() && word == "infinite") {
      value = infinity;
    } else if (node.is_null() && word == "minus infinite") {
      value = -infinity;
    } else {
      refuse(at(name), "a number must stand here, or null with \"" + status + "\" beside it", rewrite);
    }
  }

  template <class T>
  void member(const char* name, T& value) const {
    read(required(name), at(name), value);
  }

  static void read(const json& node, const std::string& place, std::string& value) {
    if (!node.is_string()) refuse(place, "a text in quotes must stand here", rewrite);
    value = node.get<std::string>();
  }
  static void read(const json& node, const std::string& place, study::ShareKind& kind) {
    std::string word;
    read(node, place, word);
    const auto found = std::find(share_kinds.begin(), share_kinds.end(), word);
    if (found == share_kinds.end())
      refuse(place, "\"" + word + "\" is no kind of share: step, tolerance or level", rewrite);
    kind = static_cast<study::ShareKind>(found - share_kinds.begin());
  }
  static void read(const json& node, const std::string& place, bool& value) {
    if (!node.is_boolean()) refuse(place, "true or false must stand here", rewrite);
    value = node.get<bool>();
  }
  template <std::unsigned_integral T>
  static void read(const json& node, const std::string& place, T& value) {
    if (!node.is_number_unsigned()) refuse(place, "a whole number, zero or more, must stand here", rewrite);
    value = node.get<T>();
  }
  // In a list a number that does not exist is null alone.
  static void read(const json& node, const std::string& place, double& value) {
    if (!node.is_number() && !node.is_null()) refuse(place, "a number must stand here, or null", rewrite);
    value = node.is_number() ? node.get<double>() : std::numeric_limits<double>::quiet_NaN();
  }
  template <class T>
  static void read(const json& node, const std::string& place, std::vector<T>& list) {
    if (!node.is_array()) refuse(place, "a list in brackets must stand here", rewrite);
    list.clear();
    list.reserve(node.size());
    for (std::size_t i = 0; i < node.size(); ++i)
      read(node[i], place + "[" + std::to_string(i) + "]", list.emplace_back());
  }
  template <class T>
  static void read(const json& node, const std::string& place, T& object) {
    each_field(object, Reader(node, place));
  }

  const json& object_;
  std::string place_;
};

void check_version(const json& file) {
  const auto text = [&](const char* key) {
    const auto found = file.find(key);
    return found != file.end() && found->is_string() ? found->get<std::string>() : std::string();
  };
  if (text("format") != "mintspread result") {
    refuse("format", "this file is not a mintspread result: its \"format\" is not \"mintspread result\"",
           "Give a file written by `mintspread run --json`.");
  }
  const std::string version = text("version");
  int major = 0, minor = 0;
  const char* end = version.data() + version.size();
  const auto [dot, bad] = std::from_chars(version.data(), end, major);
  const bool whole = bad == std::errc() && dot != end && *dot == '.' &&
                     std::from_chars(dot + 1, end, minor).ptr == end && dot + 1 != end;
  if (!whole) refuse("version", "\"" + version + "\" is not a version such as \"1.0\"", rewrite);
  if (major != study::result_format_major) {
    refuse("version",
           "this file is a result of version " + version + "; this program reads version " +
               std::to_string(study::result_format_major) + ", whose keys mean something else",
           "Read it with the program that wrote it, or run the specification again.");
  }
}

void check(std::size_t position, std::size_t size, const std::string& place) {
  if (position >= size) refuse(place, "position " + std::to_string(position) + " names nothing in this file", rewrite);
}

void check_joint_positions(const study::Result& result) {
  const auto& joint = *result.joint;
  const std::size_t channels = result.channels.size();
  const auto check_criterion = [&](std::size_t set, std::size_t criterion, const std::string& place) {
    check(set, result.windows.size(), place + ".set");
    check(criterion, result.windows[set].criteria.size(), place + ".criterion");
  };
  const auto numbered = [](const std::string& list, std::size_t i) {
    return "joint." + list + "[" + std::to_string(i) + "]";
  };
  for (std::size_t i = 0; i < joint.correlations.size(); ++i) {
    check(joint.correlations[i].first, channels, numbered("correlations", i) + ".first");
    check(joint.correlations[i].second, channels, numbered("correlations", i) + ".second");
  }
  for (std::size_t i = 0; i < joint.lines.size(); ++i) {
    const auto& line = joint.lines[i];
    const std::string place = numbered("lines", i);
    check_criterion(line.set, line.criterion, place);
    check(line.across, channels, place + ".across");
    check(line.up, channels, place + ".up");
    if (line.x.size() != line.y.size()) refuse(place + ".y", "a point has two coordinates", rewrite);
  }
  const study::Sample& sample = joint.sample;
  if (sample.readings.size() != channels) refuse("joint.sample.readings", "each channel has its list", rewrite);
  for (std::size_t c = 0; c < channels; ++c) {
    if (sample.readings[c].size() != sample.pieces.size())
      refuse(numbered("sample.readings", c), "each piece has its reading", rewrite);
  }
  if (sample.fair > sample.pieces.size()) refuse("joint.sample.fair", "there are fewer pieces", rewrite);
  for (std::size_t i = 0; i < sample.rejects.size(); ++i) {
    const auto& rejects = sample.rejects[i];
    const std::string place = numbered("sample.rejects", i);
    check_criterion(rejects.set, rejects.criterion, place);
    for (const auto position : rejects.positions) check(position, sample.pieces.size(), place + ".positions");
  }
}

// Positions that name another part of the file must lie inside it: reports follow them.
void check_positions(const study::Result& result) {
  if (result.joint) check_joint_positions(result);
  for (std::size_t m = 0; result.yield && m < result.yield->metals.size(); ++m) {
    if (result.yield->metals[m].accepted.size() != result.windows.size())
      refuse("yield.metals[" + std::to_string(m) + "].accepted", "each class has its own", rewrite);
  }
  for (std::size_t s = 0; result.stages && s < result.stages->quantities.size(); ++s) {
    if (result.stages->quantities[s].correlations.size() != result.channels.size())
      refuse("stages.quantities[" + std::to_string(s) + "].correlations", "each channel has its correlation", rewrite);
  }
  for (std::size_t c = 0; c < result.channels.size(); ++c) {
    const auto& budget = result.channels[c].budget;
    for (std::size_t i = 0; budget && i < budget->entries.size(); ++i) {
      check(budget->entries[i].input, result.inputs.size(),
            "channels[" + std::to_string(c) + "].budget.entries[" + std::to_string(i) + "].input");
    }
  }
  for (std::size_t w = 0; w < result.windows.size(); ++w) {
    const auto& set = result.windows[w];
    const std::string place = "windows[" + std::to_string(w) + "]";
    if (set.worst) check(*set.worst, set.criteria.size(), place + ".worst");
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      if (set.criteria[c].channel) {
        check(*set.criteria[c].channel, result.channels.size(), place + ".criteria[" + std::to_string(c) + "].channel");
      }
    }
  }
}

}  // namespace

study::Result read_result_json(std::string_view text) {
  json file;
  try {
    file = json::parse(text);
  } catch (const json::parse_error& error) {
    const std::size_t at = std::min<std::size_t>(error.byte, text.size());
    const auto line = 1 + std::count(text.begin(), text.begin() + static_cast<std::ptrdiff_t>(at), '\n');
    refuse("line " + std::to_string(line), "this is not JSON, or the file is cut off",
           "Give a whole file written by `mintspread run --json`.");
  }
  if (!file.is_object())
    refuse("", "this file is not a mintspread result: it is not an object",
           "Give a file written by `mintspread run --json`.");
  check_version(file);
  study::Result result;
  each_field(result, Reader(file, ""));
  check_positions(result);
  return result;
}

}  // namespace mintspread::reports
