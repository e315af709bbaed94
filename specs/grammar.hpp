#pragma once

#include <span>
#include <string>
#include <string_view>
#include <vector>

namespace mintspread::specs {

// The keys of every kind of file, told once: the reader checks files by these tables, overrides find their way by them,
// and the JSON Schemas are written from them.

struct Table;

/// How the items of a list are addressed in a path.
enum class ItemPath {
  position,  ///< "correlations.1"
  name,      ///< by their key `name`: "section.layers.outer nickel"
  step       ///< steps of a route: by their one key, and `name` where they have one: "bath.copper"
};

/// What may stand as a value.
struct Form {
  enum class Kind {
    text,             ///< any text
    choice,           ///< one of `choices`
    flag,             ///< true or false
    count,            ///< a whole number of 1 or more
    number,           ///< a number without unit
    constant,         ///< a number with its unit, no spread
    quantity,         ///< short form, or the mapping `table`
    spreads,          ///< one spread or a list of them (`varies`)
    limits,           ///< `a .. b`, `>= a`, `<= b`
    file,             ///< path of a file
    files,            ///< path of a file, or a list of them
    mapping,          ///< keys of `table`
    named,            ///< a mapping from the user's names to `of`
    list,             ///< a list of `of`
    short_or_mapping  ///< text with its own grammar, or the mapping `table`
  };
  Kind kind = Kind::text;
  const Table& (*table)() = nullptr;
  const Form* of = nullptr;
  std::vector<std::string> choices = {};
  std::string example = {};  ///< of a value, for editors and remedies
  ItemPath items = ItemPath::position;
};

enum class Need { optional, required };

struct Key {
  std::string name;
  Form form;
  std::string about;  ///< shown by editors
  Need need = Need::optional;
  std::string path =
      {};  ///< how paths call it where they do not use the name: "" keeps the name, "/" leaves the key out
};

struct Table {
  std::string title;
  std::vector<Key> keys;
  std::vector<std::string> one_of = {};  ///< exactly one of these stands
  bool single = false;                   ///< exactly one key stands

  const Key* find(std::string_view name) const;
};

enum class FileKind { coin, sensor, windows, materials, gauge };
inline constexpr FileKind file_kinds[] = {FileKind::coin, FileKind::sensor, FileKind::windows, FileKind::materials,
                                          FileKind::gauge};

std::string_view name_of(FileKind kind);

/// What a whole file must be.
const Form& form_of(FileKind kind);

/// The keys of a quantity's long form.
const Table& quantity_table();

/// What every path of a file begins with: "sensor"; empty for a coin file.
std::string_view path_root(FileKind kind);

}  // namespace mintspread::specs
