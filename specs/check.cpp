#include "specs/check.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

using Kind = Form::Kind;

constexpr std::size_t longest_name = 60;

const char* word_for(Node::Kind kind) {
  switch (kind) {
    case Node::Kind::empty:
      return "nothing";
    case Node::Kind::text:
      return "a single value";
    case Node::Kind::list:
      return "a list";
    case Node::Kind::mapping:
      return "a mapping of keys";
  }
  return "";
}

class FormCheck {
 public:
  explicit FormCheck(Context& context) : context_(context) {}

  void check(const Node& node, const Form& form, const std::string& path) {
    if (!path.empty()) context_.located(path, node.at);
    if (node.refused) return;
    switch (form.kind) {
      case Kind::mapping:
        return mapping(node, form.table(), path);
      case Kind::named:
        return named(node, *form.of, path);
      case Kind::list:
        return list(node, form, path);
      case Kind::files:
      case Kind::spreads: {
        if (node.kind != Node::Kind::list) return text(node, form, path);
        if (node.items.empty()) refuse(node, path, "this list is empty", "");
        for (const Node& item : node.items) text(item, form, path);
        return;
      }
      case Kind::quantity:
      case Kind::short_or_mapping:
        if (node.kind == Node::Kind::mapping) return mapping(node, form.table(), path);
        return text(node, form, path);
      default:
        return text(node, form, path);
    }
  }

 private:
  void refuse(const Node& node, const std::string& path, std::string what, std::string remedy) {
    node.refused = true;
    context_.findings.error(node.at, path, std::move(what), std::move(remedy));
  }

  bool wanted(const Node& node, Node::Kind kind, const std::string& path, const Form& form) {
    if (node.kind == kind) return true;
    const std::string example = form.example.empty() ? "" : fmt::format("Write it like `{}`.", form.example);
    if (node.kind == Node::Kind::empty)
      refuse(node, path, "no value stands after this key", example);
    else
      refuse(node, path, fmt::format("{} stands here, where {} is wanted", word_for(node.kind), word_for(kind)),
             example);
    return false;
  }

  void text(const Node& node, const Form& form, const std::string& path) {
    if (!wanted(node, Node::Kind::text, path, form)) return;
    const std::string value = single_blanks(node.text);
    if (form.kind == Kind::choice && std::find(form.choices.begin(), form.choices.end(), value) == form.choices.end()) {
      refuse(node, path, fmt::format("`{}` is not among the choices", value), choices(value, form.choices));
    } else if (form.kind == Kind::flag && value != "true" && value != "false") {
      refuse(node, path, fmt::format("`{}` is neither true nor false", value), "Write `true` or `false`.");
    } else if (form.kind != Kind::text && value.empty()) {
      refuse(node, path, "this value is empty",
             form.example.empty() ? "" : fmt::format("Write it like `{}`.", form.example));
    }
  }

  static std::string choices(const std::string& word, const std::vector<std::string>& known) {
    const std::string near = suggest(word, known);
    if (!near.empty()) return near;
    std::string all;
    for (const std::string& choice : known) all += (all.empty() ? "" : ", ") + choice;
    return "Choose one of: " + all + ".";
  }

  void mapping(const Node& node, const Table& table, const std::string& path) {
    if (!wanted(node, Node::Kind::mapping, path, {})) return;
    std::vector<std::string> known;
    for (const Key& key : table.keys) known.push_back(key.name);
    for (const Entry& entry : node.entries) {
      const Key* key = table.find(entry.key);
      if (key == nullptr) {
        // A key that has lost its blank is already explained.
        const bool merge = entry.key == "<<" && entry.at.source->text()[entry.at.offset] == '<';
        if (!entry.value.refused && !merge)
          context_.findings.error(entry.at, below(path, entry.key),
                                  fmt::format("`{}` is no key of a {}", entry.key, table.title),
                                  choices(entry.key, known));
        entry.value.refused = true;
        continue;
      }
      check(entry.value, key->form, path_of(*key, path));
    }
    for (const Key& key : table.keys)
      if (key.need == Need::required && node.find(key.name) == nullptr)
        context_.findings.error(
            node.at, path, fmt::format("the key `{}` is missing", key.name),
            key.form.example.empty() ? "" : fmt::format("For example `{}: {}`.", key.name, key.form.example));
    count_choices(node, table, path);
  }

  void count_choices(const Node& node, const Table& table, const std::string& path) {
    if (table.single && node.entries.size() != 1)
      refuse(node, path,
             fmt::format("a {} is a mapping with one key, but {} stand here", table.title, node.entries.size()),
             "Begin each step with `- `, and indent its keys below it.");
    if (table.one_of.empty()) return;
    std::string all;
    std::size_t standing = 0;
    for (const std::string& key : table.one_of) {
      all += (all.empty() ? "`" : " or `") + key + "`";
      if (const Entry* entry = node.find(key); entry && standing++ > 0) {
        entry->value.refused = true;
        context_.findings.error(entry->at, path, fmt::format("only one of {} may stand", all), "Remove one of them.");
      }
    }
    if (standing == 0) context_.findings.error(node.at, path, fmt::format("either {} is needed", all), "");
  }

  void named(const Node& node, const Form& of, const std::string& path) {
    if (!wanted(node, Node::Kind::mapping, path, {})) return;
    if (node.entries.empty()) return refuse(node, path, "nothing is named here", "");
    for (const Entry& entry : node.entries) {
      if (const char* why = bad_name(entry.key)) {
        entry.value.refused = true;
        context_.findings.error(entry.at, path,
                                fmt::format("`{}` cannot be a name: {}", entry.key.substr(0, longest_name), why), "");
        continue;
      }
      check(entry.value, of, below(path, entry.key));
    }
  }

  static const char* bad_name(const std::string& name) {
    if (name.empty() || single_blanks(name) != name) return "blanks stand around it, or more than one in a row";
    if (name.find('.') != std::string::npos) return "a full stop separates the parts of a path";
    if (characters(name) > longest_name) return "it is longer than 60 characters";
    return nullptr;
  }

  void list(const Node& node, const Form& form, const std::string& path) {
    if (!wanted(node, Node::Kind::list, path, {})) return;
    if (node.items.empty()) return refuse(node, path, "this list is empty", "");
    std::vector<std::string> before;
    for (std::size_t i = 0; i < node.items.size(); ++i) {
      const Node& item = node.items[i];
      const std::string item_path = path_of(item, i, form, path);
      const Entry* name = item.find("name");
      const Node& inner = form.items == ItemPath::step && item.entries.size() == 1 ? item.entries[0].value : item;
      if (form.items == ItemPath::step) name = inner.find("name");
      if (form.items != ItemPath::position && name && name->value.kind == Node::Kind::text) {
        const std::string word = single_blanks(name->value.text);
        if (const char* why = bad_name(word))
          refuse(name->value, item_path, fmt::format("`{}` cannot be a name: {}", word.substr(0, longest_name), why),
                 "");
      }
      if (form.items != ItemPath::position && std::find(before.begin(), before.end(), item_path) != before.end()) {
        const At at = name ? name->value.at : item.at;
        if (form.items == ItemPath::name || name) {
          context_.findings.error(at, item_path, "this name is taken already, so paths could not tell the two apart",
                                  "Give one of them another name.");
        } else {
          const Table& steps = form.of->table();
          const Key* step = item.entries.empty() ? nullptr : steps.find(item.entries[0].key);
          const bool nameable = step && step->form.table && step->form.table().find("name");
          context_.findings.error(at, item_path, fmt::format("a second `{}` stands in the route", item_path),
                                  nameable ? "Give each a `name`." : "Keep one of them.");
        }
        item.refused = true;
      }
      before.push_back(item_path);
      if (form.items == ItemPath::step && item.entries.size() == 1 && form.of->table().find(item.entries[0].key)) {
        context_.located(item_path, item.at);
        const bool twice = item.refused;
        item.refused = false;
        check(inner, form.of->table().find(item.entries[0].key)->form, item_path);
        item.refused = twice;
      } else {
        check(item, *form.of, item_path);
      }
    }
  }

  Context& context_;
};

}  // namespace

void check_form(const Node& node, const Form& form, const std::string& path, Context& context) {
  FormCheck(context).check(node, form, path);
}

bool check_file(const Node& root, FileKind kind, Context& context) {
  const std::string wanted = fmt::format("mintspread {} 1", name_of(kind));
  const std::string remedy = fmt::format("Begin the file with `format: {}`.", wanted);
  const Entry* format = root.kind == Node::Kind::mapping ? root.find("format") : nullptr;
  if (format == nullptr) {
    context.findings.error(
        root.at, "",
        fmt::format("the file does not say its format, so it cannot be taken for a {} file", name_of(kind)), remedy);
    return false;
  }
  const std::string found = format->value.kind == Node::Kind::text ? single_blanks(format->value.text) : "";
  if (found != wanted) {
    const std::size_t version = found.rfind(' ');
    const bool right_kind =
        version != std::string::npos && found.substr(0, version) == wanted.substr(0, wanted.rfind(' '));
    context.findings.error(
        format->value.at, "format",
        right_kind ? fmt::format("version {} of this format is not known to this program", found.substr(version + 1))
                   : fmt::format("`{}` is not the format of a {} file", found, name_of(kind)),
        right_kind ? fmt::format("Known is version 1: `{}`.", wanted) : remedy);
    return false;
  }
  check_form(root, form_of(kind), std::string(path_root(kind)), context);
  return true;
}

std::string path_of(const Key& key, const std::string& path) {
  if (key.path == "/") return path;
  return below(path, key.path.empty() ? key.name : key.path);
}

std::string path_of(const Node& item, std::size_t position, const Form& list, const std::string& path) {
  const auto name_in = [](const Node& node) {
    const Entry* name = node.find("name");
    return name && name->value.kind == Node::Kind::text ? single_blanks(name->value.text) : std::string();
  };
  if (list.items == ItemPath::step && item.entries.size() == 1) {
    const std::string step = below(path, item.entries[0].key), name = name_in(item.entries[0].value);
    return name.empty() ? step : below(step, name);
  }
  if (list.items == ItemPath::name)
    if (const std::string name = name_in(item); !name.empty()) return below(path, name);
  return below(list.items == ItemPath::step && path.empty() ? "route" : path, std::to_string(position + 1));
}

const Node* Fields::operator[](std::string_view key) const {
  const Entry* entry = node_->find(key);
  return entry && !entry->value.refused && entry->value.kind != Node::Kind::empty ? &entry->value : nullptr;
}

std::string Fields::text(std::string_view key) const {
  const Node* node = (*this)[key];
  return node && node->kind == Node::Kind::text ? single_blanks(node->text) : std::string();
}

}  // namespace mintspread::specs
