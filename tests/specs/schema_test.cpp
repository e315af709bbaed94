#include "specs/schema.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <regex>
#include <set>
#include <sstream>

#include "specs/check.hpp"

using namespace mintspread::specs;
using json = nlohmann::json;

namespace {

std::filesystem::path committed(FileKind kind) {
  return std::filesystem::path(MINTSPREAD_SPECS) / "schema" / (std::string(name_of(kind)) + ".schema.json");
}

std::string whole(const std::filesystem::path& file) {
  std::ifstream stream(file);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

/// A tree as JSON, plain scalars by the core schema of YAML 1.2 (section 10.3.2), as an editor reads them.
json as_json(const Node& node) {
  if (node.kind == Node::Kind::list) {
    json all = json::array();
    for (const Node& item : node.items) all.push_back(as_json(item));
    return all;
  }
  if (node.kind == Node::Kind::mapping) {
    json all = json::object();
    for (const Entry& entry : node.entries) all[entry.key] = as_json(entry.value);
    return all;
  }
  if (node.kind == Node::Kind::empty) return nullptr;
  const char first = node.at.source->text()[node.at.offset];
  if (first == '"' || first == '\'' || first == '|' || first == '>') return node.text;
  static const std::regex whole_number("[-+]?[0-9]+"), number("[-+]?(\\.[0-9]+|[0-9]+(\\.[0-9]*)?)([eE][-+]?[0-9]+)?");
  if (node.text == "true" || node.text == "True" || node.text == "TRUE") return true;
  if (node.text == "false" || node.text == "False" || node.text == "FALSE") return false;
  if (std::regex_match(node.text, whole_number)) return std::stoll(node.text);
  if (std::regex_match(node.text, number)) return std::stod(node.text);
  return node.text;
}

/// The part of JSON Schema draft-07 that these schemas use; any other keyword is a failure.
bool valid(const json& schema, const json& value, const json& root) {
  for (const auto& [key, rule] : schema.items()) {
    if (key == "$schema" || key == "title" || key == "description" || key == "examples" || key == "definitions")
      continue;
    if (key == "$ref") {
      std::string name = rule.get<std::string>().substr(std::string("#/definitions/").size());
      for (std::size_t at = name.find("%20"); at != std::string::npos; at = name.find("%20")) name.replace(at, 3, " ");
      if (!valid(root.at("definitions").at(name), value, root)) return false;
    } else if (key == "type") {
      const auto is = [&](const std::string& type) {
        return (type == "object" && value.is_object()) || (type == "array" && value.is_array()) ||
               (type == "string" && value.is_string()) || (type == "boolean" && value.is_boolean()) ||
               (type == "number" && value.is_number()) ||
               (type == "integer" && (value.is_number_integer() ||
                                      (value.is_number() && value.get<double>() == std::floor(value.get<double>()))));
      };
      if (rule.is_string() ? !is(rule)
                           : std::none_of(rule.begin(), rule.end(), [&](const json& type) { return is(type); }))
        return false;
    } else if (key == "enum") {
      if (std::find(rule.begin(), rule.end(), value) == rule.end()) return false;
    } else if (key == "anyOf" || key == "allOf" || key == "oneOf") {
      const auto count =
          std::count_if(rule.begin(), rule.end(), [&](const json& one) { return valid(one, value, root); });
      if (key == "anyOf" ? count == 0 : key == "oneOf" ? count != 1 : count != static_cast<std::ptrdiff_t>(rule.size()))
        return false;
    } else if (key == "minimum") {
      if (value.is_number() && value.get<double>() < rule.get<double>()) return false;
    } else if (key == "minItems") {
      if (value.is_array() && value.size() < rule.get<std::size_t>()) return false;
    } else if (key == "minProperties" || key == "maxProperties") {
      if (value.is_object() &&
          (key == "minProperties" ? value.size() < rule.get<std::size_t>() : value.size() > rule.get<std::size_t>()))
        return false;
    } else if (key == "maxLength") {
      if (value.is_string() && characters(value.get<std::string>()) > rule.get<std::size_t>()) return false;
    } else if (key == "pattern") {
      if (value.is_string() && !std::regex_search(value.get<std::string>(), std::regex(rule.get<std::string>())))
        return false;
    } else if (key == "required") {
      if (value.is_object() &&
          std::any_of(rule.begin(), rule.end(), [&](const json& name) { return !value.contains(name); }))
        return false;
    } else if (key == "items") {
      if (value.is_array() &&
          !std::all_of(value.begin(), value.end(), [&](const json& item) { return valid(rule, item, root); }))
        return false;
    } else if (key == "propertyNames") {
      if (value.is_object())
        for (const auto& [name, ignored] : value.items())
          if (!valid(rule, name, root)) return false;
    } else if (key == "properties") {
      if (value.is_object())
        for (const auto& [name, one] : rule.items())
          if (value.contains(name) && !valid(one, value[name], root)) return false;
    } else if (key == "additionalProperties") {
      if (value.is_object())
        for (const auto& [name, one] : value.items())
          if (!(schema.contains("properties") && schema["properties"].contains(name)) &&
              (rule.is_boolean() ? !rule.get<bool>() : !valid(rule, one, root)))
            return false;
    } else {
      FAIL("keyword " << key);
    }
  }
  return true;
}

/// What the tables and the schema say of one file.
struct Verdicts {
  bool reader, schema;
};

Verdicts verdicts(const std::string& text, FileKind kind) {
  const Source source("t.yaml", "", text);
  Context context(disk_files());
  const auto tree = parse_yaml(source, context.findings);
  REQUIRE(tree);
  const bool reader = check_file(*tree, kind, context) && !context.findings.any_error();
  const json root = json::parse(schema(kind));
  return {reader, valid(root, as_json(*tree), root)};
}

std::optional<FileKind> kind_of(const std::string& text) {
  for (const FileKind kind : file_kinds)
    if (text.starts_with("format: mintspread " + std::string(name_of(kind)) + " 1\n")) return kind;
  return std::nullopt;
}

}  // namespace

TEST_CASE("the committed schemas are those the reader's tables give") {
  for (const FileKind kind : file_kinds) {
    INFO(committed(kind).string() << ": write it anew with `test_specs '[.write schemas]'`");
    CHECK(whole(committed(kind)) == schema(kind));
  }
}

TEST_CASE("write the schemas", "[.write schemas]") {
  for (const FileKind kind : file_kinds) std::ofstream(committed(kind)) << schema(kind);
}

TEST_CASE("what the reader accepts, the schema accepts") {
  // A schema cannot tell that the names of a list's items differ, or what they are made of.
  const std::set<std::string> beyond_schemas = {"two-unnamed-anneals", "full-stop-in-a-name", "second-blank",
                                                "two-baths-of-one-name"};
  std::size_t files = 0;
  for (const std::string& folder : {std::string(MINTSPREAD_TESTS) + "/specs/data", std::string(MINTSPREAD_SPECS),
                                    std::string(MINTSPREAD_TESTS) + "/rejected"})
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
      const std::string text = entry.path().extension() == ".yaml" ? whole(entry.path()) : "";
      const auto kind = kind_of(text);
      const Source source("t.yaml", "", text);
      Findings findings;
      if (!kind || !parse_yaml(source, findings) || findings.any_error()) continue;
      INFO(entry.path().string());
      const Verdicts both = verdicts(text, *kind);
      // A fault of a number or a unit is in the text of a value, which the schema sees only roughly.
      if (both.reader && folder.find("rejected") == std::string::npos) CHECK(both.schema);
      if (!both.reader && !beyond_schemas.contains(entry.path().stem().string())) CHECK_FALSE(both.schema);
      ++files;
    }
  CHECK(files > 50);
}

TEST_CASE("what is wrong with keys is wrong to the reader and to the schema") {
  const std::string coin = "format: mintspread coin 1\ncoin: {name: x}\nmaterials: a.yaml\nsensor: b.yaml\n";
  const std::string section =
      "section: {diameter: 22 mm, rim width: 1 mm, layers: [{name: core, material: a, thickness: 1 mm}]}\n";
  const auto both = [](const std::string& text, FileKind kind, bool accepted) {
    INFO(text);
    const Verdicts v = verdicts(text, kind);
    CHECK(v.reader == accepted);
    CHECK(v.schema == accepted);
  };
  both(coin + section, FileKind::coin, true);
  both(coin + section + "groups: {lot: {pieces: 6e5}}\n", FileKind::coin, true);
  both(coin + "route:\n  - anneal: {temperature: 500 degC, time: 1 h}\n", FileKind::coin, true);
  both(coin, FileKind::coin, false);
  both(coin + section + "route: [{blank: {material: a, thickness: 1 mm, rimmed diameter: 1 mm}}]\n", FileKind::coin,
       false);
  both(coin + "route:\n  - {anneal: {temperature: 500 degC, time: 1 h}, strike: {}}\n", FileKind::coin, false);
  both(coin + "section: {diameter: 22 mm, rim width: 1 mm, layers: []}\n", FileKind::coin, false);
  both(coin + section + "groups: {a.b: {pieces: 3}}\n", FileKind::coin, false);
  both(coin + section + "groups: {}\n", FileKind::coin, false);
  both(coin + section + "groups: {lot: {}}\n", FileKind::coin, false);
  both(coin + section + "colour: red\n", FileKind::coin, false);
  both(
      "format: mintspread sensor 1\nsensor: {name: x}\nslot: {width: 3 mm, rest: above}\nchannels: {a: {value: "
      "mass}}\n",
      FileKind::sensor, true);
  both(
      "format: mintspread sensor 1\nsensor: {name: x}\nslot: {width: 3 mm, rest: left}\nchannels: {a: {value: mass}}\n",
      FileKind::sensor, false);
  both(
      "format: mintspread sensor 1\nsensor: {name: x}\nslot: {width: {value: 3 mm, sorted: maybe}}\nchannels: {a: "
      "{value: mass}}\n",
      FileKind::sensor, false);
  both("format: mintspread windows 1\nclasses: {a: {windows: {x: 1 .. 2}}}\n", FileKind::windows, true);
  both("format: mintspread windows 1\nclasses: {a: {windows: {x: [1, 2]}}}\n", FileKind::windows, false);
  both("format: mintspread materials 1\nmaterials: {a: {permeability: {known to: 1 .. 2}}}\n", FileKind::materials,
       true);
  both("format: mintspread materials 2\nmaterials: {a: {permeability: 1}}\n", FileKind::materials, false);
}

TEST_CASE("every key of the grammar says what it is, and its example fits it") {
  for (const FileKind kind : file_kinds) {
    const json root = json::parse(schema(kind));
    const auto check = [&](const json& table) {
      for (const auto& [name, property] : table.at("properties").items()) {
        INFO(table.at("title") << ": " << name);
        CHECK(property.at("description").get<std::string>().size() > 8);
        if (property.contains("examples"))
          CHECK((valid(property, property["examples"][0], root) ||
                 valid(property, json::parse(property["examples"][0].get<std::string>(), nullptr, false), root)));
      }
    };
    check(root);
    for (const auto& [name, table] : root.at("definitions").items()) check(table);
  }
}
