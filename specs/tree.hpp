#pragma once

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "specs/source.hpp"

namespace mintspread::specs {

struct Entry;

/// A value of a YAML file with its place. All scalars are text: what they mean is decided where they are read.
struct Node {
  enum class Kind { empty, text, list, mapping };

  Kind kind = Kind::empty;
  At at;
  std::string text;
  std::vector<Node> items;
  std::vector<Entry> entries;    ///< keys are unique, in the order of the file
  mutable bool refused = false;  ///< already reported: later checks keep quiet about it

  const Entry* find(std::string_view key) const;
  Entry* find(std::string_view key);
  /// Place of the i-th byte of `text`; of the whole value where the text was folded or escaped.
  At at_byte(std::size_t i) const;
};

struct Entry {
  std::string key;
  At at;  ///< of the key
  Node value;
};

/// The one document of a YAML 1.2 text, or of the part of YAML that specifications use: no anchors, aliases, tags,
/// merge keys, directives, duplicate keys, second documents, keys that are not text, tabs in the indentation, nesting
/// beyond 32, or text that is not UTF-8. Reports all of these and returns nothing when the text cannot be followed to
/// its end.
std::optional<Node> parse_yaml(const Source& source, Findings& findings);

/// The value of an override: YAML where it begins with a bracket or a quote, otherwise the text as it stands.
std::optional<Node> parse_override(const Source& source, Findings& findings);

}  // namespace mintspread::specs
