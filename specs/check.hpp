#pragma once

#include <string>

#include "specs/context.hpp"
#include "specs/grammar.hpp"
#include "specs/tree.hpp"

namespace mintspread::specs {

/// Compares a value with its form: unknown keys (with the nearest known one), missing keys, lists for mappings, words
/// that are no choice. What does not fit is reported and marked as refused; every value's place is noted under its
/// path.
void check_form(const Node& node, const Form& form, const std::string& path, Context& context);

/// The same for a whole file, which must begin with the right `format`. False where the file is of another kind or
/// version, so that its other keys say nothing.
bool check_file(const Node& root, FileKind kind, Context& context);

/// Path of a value below the mapping at `path`.
std::string path_of(const Key& key, const std::string& path);

/// Path of the `position`-th item (from 0) of a list at `path`.
std::string path_of(const Node& item, std::size_t position, const Form& list, const std::string& path);

/// A mapping that has been checked: its values by key.
class Fields {
 public:
  Fields(const Node& node, std::string path) : node_(&node), path_(std::move(path)) {}

  const Node& node() const { return *node_; }
  const std::string& path() const { return path_; }
  std::string path(const std::string& key) const { return below(path_, key); }
  /// The value of a key, or null when it is absent or already refused.
  const Node* operator[](std::string_view key) const;
  /// The text of a key, single blanks; empty when there is none.
  std::string text(std::string_view key) const;
  bool stands(std::string_view key) const { return node_->find(key) != nullptr; }

 private:
  const Node* node_;
  std::string path_;
};

}  // namespace mintspread::specs
