#include "specs/canonical.hpp"

#include <nlohmann/json.hpp>

#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

using nlohmann::json;  // its objects are sorted by key

json canonical(const Node& node) {
  switch (node.kind) {
    case Node::Kind::empty:
      return nullptr;
    case Node::Kind::text:
      return single_blanks(node.text);
    case Node::Kind::list: {
      json all = json::array();
      for (const Node& item : node.items) all.push_back(canonical(item));
      return all;
    }
    case Node::Kind::mapping: {
      json all = json::object();
      for (const Entry& entry : node.entries) all[entry.key] = canonical(entry.value);
      return all;
    }
  }
  return nullptr;
}

}  // namespace

std::string canonical_text(const Node& coin, const Node& sensor, std::span<const Node* const> windows,
                           std::span<const Node* const> materials, const std::map<std::string, std::string>& tables) {
  json all;
  all["coin"] = canonical(coin);
  for (const char* include : {"sensor", "windows", "materials"}) all["coin"].erase(include);
  all["sensor"] = canonical(sensor);
  all["windows"] = json::array();
  for (const Node* file : windows) all["windows"].push_back(canonical(*file));
  all["materials"] = json::array();
  for (const Node* file : materials) all["materials"].push_back(canonical(*file));
  all["tables"] = tables;
  return all.dump();
}

}  // namespace mintspread::specs
