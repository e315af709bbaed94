#include "specs/override.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <charconv>

#include "specs/check.hpp"
#include "specs/number.hpp"

namespace mintspread::specs {

namespace {

using Kind = Form::Kind;

/// Finds its way through a tree by the grammar.
class Walk {
 public:
  Walk(const ParsedOverride& override, bool may_add) : o_(override), may_add_(may_add) {}

  /// The node at the path, added where the grammar has it and it does not stand yet; null when the path leads nowhere.
  Node* find(Node& node, const Form& form, std::size_t part) {
    deepest_ = std::max(deepest_, part);
    if (part == o_.parts.size()) return &node;
    switch (form.kind) {
      case Kind::mapping:
        return in_mapping(node, form.table(), part);
      case Kind::quantity:
      case Kind::short_or_mapping:
        return in_quantity(node, form, part);
      case Kind::named: {
        if (!become(node, Node::Kind::mapping)) return nullptr;
        if (Entry* entry = node.find(o_.parts[part])) return find(entry->value, *form.of, part + 1);
        // A new name can only be given whole: a misspelt one would make something that nobody uses.
        return part + 1 == o_.parts.size() ? add(node, o_.parts[part], *form.of, part) : nullptr;
      }
      case Kind::list:
        return in_list(node, form, part);
      default:
        return nullptr;
    }
  }
  std::size_t deepest() const { return deepest_; }

 private:
  /// An absent value may become what the path needs.
  bool become(Node& node, Node::Kind kind) const {
    if (node.kind == Node::Kind::empty && may_add_) {
      node.kind = kind;
      node.at = {o_.source, 0};
    }
    return node.kind == kind;
  }

  Node* add(Node& node, const std::string& name, const Form& form, std::size_t part) {
    if (!may_add_) return nullptr;
    node.entries.push_back({name, {o_.source, 0}, {}});
    node.entries.back().value.at = {o_.source, 0};
    Node* found = find(node.entries.back().value, form, part + 1);
    if (found == nullptr) node.entries.pop_back();
    return found;
  }

  Node* in_mapping(Node& node, const Table& table, std::size_t part) {
    if (!become(node, Node::Kind::mapping)) return nullptr;
    for (const Key& key : table.keys) {
      if (key.path == "/" || (key.path.empty() ? key.name : key.path) != o_.parts[part] || key.name == "format")
        continue;
      if (Entry* entry = node.find(key.name)) return find(entry->value, key.form, part + 1);
      return add(node, key.name, key.form, part);
    }
    for (const Key& key : table.keys)
      if (Entry* entry = node.find(key.name); entry && key.path == "/")
        if (Node* found = find(entry->value, key.form, part)) return found;
    return nullptr;
  }

  /// The keys of a long form can be set where the short form stands: `thickness.basis`.
  Node* in_quantity(Node& node, const Form& form, std::size_t part) {
    const Table& table = form.table();
    if (table.find(o_.parts[part]) == nullptr) return nullptr;
    if (node.kind == Node::Kind::text) {
      if (!may_add_) return nullptr;
      Node longer;
      longer.kind = Node::Kind::mapping;
      longer.at = node.at;
      longer.entries.push_back({table.find("value") ? "value" : "sd", node.at, node});
      node = std::move(longer);
    }
    return in_mapping(node, table, part);
  }

  Node* in_list(Node& node, const Form& form, std::size_t part) {
    if (node.kind != Node::Kind::list) return nullptr;
    for (std::size_t i = 0; i < node.items.size(); ++i) {
      Node& item = node.items[i];
      const std::string path = path_of(item, i, form, "");
      const std::size_t parts = static_cast<std::size_t>(std::count(path.begin(), path.end(), '.')) + 1;
      if (part + parts > o_.parts.size() ||
          path != fmt::format("{}", fmt::join(o_.parts.begin() + static_cast<std::ptrdiff_t>(part),
                                              o_.parts.begin() + static_cast<std::ptrdiff_t>(part + parts), ".")))
        continue;
      if (form.items != ItemPath::step) return find(item, *form.of, part + parts);
      const Key* step = form.of->table().find(item.entries[0].key);
      return step ? find(item.entries[0].value, step->form, part + parts) : nullptr;
    }
    return nullptr;
  }

  const ParsedOverride& o_;
  bool may_add_;
  std::size_t deepest_ = 0;
};

/// Every path that could be set, for hints.
void collect(const Node& node, const Form& form, const std::string& path, std::vector<std::string>& out) {
  constexpr std::size_t most = 5000;
  if (out.size() > most) return;
  if (!path.empty()) out.push_back(path);
  switch (form.kind) {
    case Kind::mapping:
      if (node.kind != Node::Kind::mapping) return;
      for (const Key& key : form.table().keys) {
        if (key.name == "format") continue;
        const Entry* entry = node.find(key.name);
        if (entry)
          collect(entry->value, key.form, path_of(key, path), out);
        else if (key.path != "/")
          out.push_back(path_of(key, path));
      }
      return;
    case Kind::named:
      for (const Entry& entry : node.entries) collect(entry.value, *form.of, below(path, entry.key), out);
      return;
    case Kind::list:
      for (std::size_t i = 0; i < node.items.size(); ++i) {
        const Node& item = node.items[i];
        const std::string item_path = path_of(item, i, form, path);
        const Key* step = form.items == ItemPath::step && item.entries.size() == 1
                              ? form.of->table().find(item.entries[0].key)
                              : nullptr;
        if (step)
          collect(item.entries[0].value, step->form, item_path, out);
        else
          collect(item, *form.of, item_path, out);
      }
      return;
    default:
      return;
  }
}

/// Parts of a path up to the key that names a gauge file, where it goes on into that file; else 0.
std::size_t into_gauge(const ParsedOverride& override) {
  for (std::size_t i = 2; i + 1 < override.parts.size(); ++i)
    if (override.parts[i - 1] == "data" && override.parts[i] == "gauge") return i + 1;
  return 0;
}

/// Parts of a path that lead to the file.
std::size_t leading(const ParsedOverride& override, FileKind kind) {
  return kind == FileKind::coin ? 0 : kind == FileKind::gauge ? into_gauge(override) : 1;
}

std::string joined(const ParsedOverride& override, std::size_t parts) {
  return fmt::format(
      "{}", fmt::join(override.parts.begin(), override.parts.begin() + static_cast<std::ptrdiff_t>(parts), "."));
}

}  // namespace

std::vector<ParsedOverride> parse_overrides(std::span<const Override> overrides, const std::string& directory,
                                            Context& context) {
  std::vector<ParsedOverride> out;
  for (const Override& given : overrides) {
    const Source& source = context.keep("--set " + given.path, directory, given.text);
    auto value = parse_override(source, context.findings);
    if (!value) continue;
    ParsedOverride parsed{given.path, {}, &source, std::move(*value)};
    for (std::size_t begin = 0; begin <= given.path.size();) {
      const std::size_t end = std::min(given.path.find('.', begin), given.path.size());
      parsed.parts.push_back(single_blanks(std::string_view(given.path).substr(begin, end - begin)));
      begin = end + 1;
    }
    out.push_back(std::move(parsed));
  }
  return out;
}

FileKind file_of(const ParsedOverride& override) {
  if (into_gauge(override) > 0) return FileKind::gauge;
  if (override.parts.size() > 1)
    for (const FileKind kind : {FileKind::sensor, FileKind::windows, FileKind::materials})
      if (override.parts[0] == path_root(kind)) return kind;
  return FileKind::coin;
}

void apply_override(const ParsedOverride& override, FileKind kind, std::span<Node* const> trees, Context& context) {
  const std::size_t first = leading(override, kind);
  // Later files override earlier ones, so the last that holds the value, or most of its path, is the one to change.
  Node* target = nullptr;
  for (std::size_t i = trees.size(); i-- > 0 && target == nullptr;)
    target = Walk(override, false).find(*trees[i], form_of(kind), first);
  Node* best = nullptr;
  std::size_t deepest = 0;
  for (std::size_t i = trees.size(); i-- > 0 && target == nullptr;) {
    Walk walk(override, false);
    walk.find(*trees[i], form_of(kind), first);
    if (best == nullptr || walk.deepest() > deepest) best = trees[i], deepest = walk.deepest();
  }
  if (target == nullptr && best != nullptr) target = Walk(override, true).find(*best, form_of(kind), first);
  if (target != nullptr) {
    *target = override.value;
    return;
  }
  std::vector<std::string> known;
  for (const Node* tree : trees)
    collect(*tree, form_of(kind), kind == FileKind::gauge ? joined(override, first) : std::string(path_root(kind)),
            known);
  const std::string near = suggest(override.path, known);
  context.findings.error(
      {override.source, 0}, override.path, "the specification has no value at this path",
      near.empty() ? "Paths are made of the keys, like `bath.copper.thickness` or `sensor.slot.play`." : near);
}

void apply_gauge_overrides(const std::string& path, Node& root, Context& context) {
  std::erase_if(context.gauge_overrides, [&](const ParsedOverride* override) {
    if (joined(*override, into_gauge(*override)) != path) return false;
    Node* const tree = &root;
    apply_override(*override, FileKind::gauge, std::span(&tree, 1), context);
    return true;
  });
}

void report_gauge_overrides(Context& context) {
  for (const ParsedOverride* override : context.gauge_overrides)
    context.findings.error({override->source, 0}, override->path,
                           fmt::format("no gauge file is named at `{}`", joined(*override, into_gauge(*override))),
                           "Paths into a gauge file begin with that of the quantity, like "
                           "`bath.copper.thickness.data.gauge.repeatability`.");
}

}  // namespace mintspread::specs
