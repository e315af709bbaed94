#include "specs/schema.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

namespace mintspread::specs {

namespace {

using json = nlohmann::ordered_json;
using Kind = Form::Kind;

// A text that begins as a number does and has no decimal comma. The rest is left to the reader.
constexpr const char* number_pattern = "^(?!.*[0-9],[0-9])\\s*[-+]?\\.?[0-9]";
constexpr const char* quantity_pattern = "^(?!.*[0-9],[0-9])\\s*([-+]?\\.?[0-9]|\\+/-|\u00b1)";
constexpr const char* limits_pattern = "^(?!.*[0-9],[0-9])\\s*([<>]=|.*\\.\\.)";
constexpr const char* name_pattern = "^[^. ]([^.]*[^. ])?$";

class SchemaWriter {
 public:
  json write(FileKind kind) {
    json root;
    root["$schema"] = "http://json-schema.org/draft-07/schema#";
    root["title"] = fmt::format("mintspread {} file", name_of(kind));
    root["description"] = "Written from the reader's own tables; do not edit.";
    const json body = table(form_of(kind).table());
    for (const auto& [key, value] : body.items())
      if (key != "title") root[key] = value;
    root["definitions"] = std::move(definitions_);
    return root;
  }

 private:
  json table(const Table& table) {
    json out;
    out["title"] = table.title;
    out["type"] = "object";
    out["additionalProperties"] = false;
    json required = json::array();
    for (const Key& key : table.keys) {
      json value = form(key.form);
      value["description"] = key.about;
      out["properties"][key.name] = std::move(value);
      if (key.need == Need::required) required.push_back(key.name);
    }
    if (!required.empty()) out["required"] = std::move(required);
    if (table.single) out["minProperties"] = out["maxProperties"] = 1;
    for (const std::string& key : table.one_of) out["oneOf"].push_back({{"required", {key}}});
    return out;
  }

  /// Tables are defined once and referred to by their title.
  json reference(const Table& to) {
    if (!definitions_.contains(to.title)) {
      definitions_[to.title] = nullptr;
      definitions_[to.title] = table(to);
    }
    return {{"$ref", "#/definitions/" + escaped(to.title)}};
  }
  /// RFC 3986 for the blanks of a title in a reference.
  static std::string escaped(const std::string& title) {
    std::string out;
    for (char c : title) out += c == ' ' ? "%20" : std::string(1, c);
    return out;
  }

  static json number_or_text(const char* pattern) {
    return {{"anyOf", {{{"type", "number"}}, {{"type", "string"}, {"pattern", pattern}}}}};
  }

  json form(const Form& form) {
    json out;
    switch (form.kind) {
      case Kind::text:
        out["type"] = {"string", "number", "boolean"};
        break;
      case Kind::choice:
        out["enum"] = form.choices;
        break;
      case Kind::flag:
        out["type"] = "boolean";
        break;
      case Kind::count:
        out = {{"type", "integer"}, {"minimum", 1}};
        break;
      case Kind::number:
        out["type"] = "number";
        break;
      case Kind::constant:
        out = number_or_text(number_pattern);
        break;
      case Kind::quantity:
      case Kind::short_or_mapping:
        out = number_or_text(quantity_pattern);
        out["anyOf"].push_back(reference(form.table()));
        break;
      case Kind::spreads:
        out = number_or_text(quantity_pattern);
        out["anyOf"].push_back({{"type", "array"}, {"items", number_or_text(quantity_pattern)}, {"minItems", 1}});
        break;
      case Kind::limits:
        out = {{"type", "string"}, {"pattern", limits_pattern}};
        break;
      case Kind::file:
        out["type"] = "string";
        break;
      case Kind::files:
        out["anyOf"] = {{{"type", "string"}}, {{"type", "array"}, {"items", {{"type", "string"}}}, {"minItems", 1}}};
        break;
      case Kind::mapping:
        out["allOf"] = json::array({reference(form.table())});
        return out;
      case Kind::named:
        out = {{"type", "object"},
               {"minProperties", 1},
               {"propertyNames", {{"pattern", name_pattern}, {"maxLength", 60}}}};
        out["additionalProperties"] = this->form(*form.of);
        return out;
      case Kind::list:
        out = {{"type", "array"}, {"minItems", 1}};
        out["items"] = this->form(*form.of);
        return out;
    }
    if (!form.example.empty()) out["examples"] = json::array({form.example});
    return out;
  }

  json definitions_ = json::object();
};

}  // namespace

std::string schema(FileKind kind) { return SchemaWriter().write(kind).dump(2) + "\n"; }

}  // namespace mintspread::specs
