#pragma once

#include <deque>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "engine/study/model.hpp"
#include "specs/files.hpp"
#include "specs/reader.hpp"
#include "specs/source.hpp"
#include "specs/tree.hpp"

namespace mintspread::specs {

struct ParsedOverride;

/// A quantity whose data a gauge has read that reads an element, or what is not magnetic, in all layers together.
struct GaugedQuantity {
  At at;
  std::string path, quantity;  ///< of the gauge's name, and of the quantity
  std::string reads;           ///< "the mass of Cu"
  std::string element;         ///< empty: what is not magnetic
};

/// What one reading of a specification has in hand: texts, findings and the model as it grows.
class Context {
 public:
  explicit Context(const FileReader& file_reader);

  Findings findings;
  study::ProductionModel model;
  std::map<std::string, At> places;                    ///< of every value, by path
  std::map<std::string, std::string> tables;           ///< SHA-256 of measured values used, by the path of the quantity
  std::vector<const ParsedOverride*> gauge_overrides;  ///< not applied yet
  std::vector<GaugedQuantity> gauged;                  ///< to be told of when all layers are known
  bool groups_known = true;                            ///< false: unknown levels are no news and taken as `piece`

  /// Keeps a text for as long as the reading lasts.
  const Source& keep(std::string name, std::string directory, std::string text);
  /// The text of a file named in `by`, relative to the file it stands in; a finding at `by` when there is none.
  const Source* open(const Node& by, const std::string& path, const std::string& what);
  /// The text of the coin file itself.
  const Source* open(const std::string& name);

  /// Appends an input.
  InputId add(study::Input input);
  /// Notes where a value stands; the first note of a path counts.
  void located(const std::string& path, At at);
  /// A problem the engine found, at the value of its path or of the longest part of it that stands in a file.
  void report(const Problem& problem, At otherwise);
  /// Position of a level of variation; a finding when there is none of that name.
  std::optional<std::size_t> level(const std::string& name, At at, const std::string& path);

 private:
  const FileReader& files_;
  std::deque<Source> sources_;
};

/// The value in `places` for a path or for the longest part of it that has one; null when none has.
template <class Value>
const Value* nearest_place(const std::map<std::string, Value>& places, std::string path) {
  while (!path.empty()) {
    if (const auto found = places.find(path); found != places.end()) return &found->second;
    const std::size_t dot = path.rfind('.');
    path.resize(dot == std::string::npos ? 0 : dot);
  }
  return nullptr;
}

/// Path of a file named in another one: relative to its directory, unless absolute.
std::string beside(const std::string& directory, const std::string& name);

/// `key` below `path`.
std::string below(const std::string& path, const std::string& key);

/// A remedy for an unknown name: "Did you mean `near`?", or all that are known where they are few, or nothing.
std::string suggest(std::string_view word, const std::vector<std::string>& known);

}  // namespace mintspread::specs
