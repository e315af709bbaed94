#include <catch2/catch.hpp>
#include <fstream>
#include <set>
#include <sstream>

#include "specs/check.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using namespace mintspread::specs;

namespace {

std::string reference() {
  std::ifstream stream(std::string(MINTSPREAD_SPECS) + "/reference.md");
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

void keys_of(const Form& form, std::set<const Table*>& tables, std::set<std::string>& keys) {
  if (form.of) keys_of(*form.of, tables, keys);
  if (!form.table || !tables.insert(&form.table()).second) return;
  for (const Key& key : form.table().keys) {
    keys.insert(key.name);
    for (const std::string& choice : key.form.choices) keys.insert(choice);
    keys_of(key.form, tables, keys);
  }
}

}  // namespace

TEST_CASE("the reference names every key and every choice of the grammar") {
  const std::string text = reference();
  std::set<const Table*> tables;
  std::set<std::string> keys;
  for (const FileKind kind : file_kinds) keys_of(form_of(kind), tables, keys);
  CHECK(keys.size() > 80);
  for (const std::string& key : keys) {
    INFO(key);
    const bool named = text.find("`" + key + "`") != std::string::npos || text.find(key + ":") != std::string::npos ||
                       text.find(": " + key) != std::string::npos || text.find("| " + key) != std::string::npos;
    CHECK(named);
  }
}

TEST_CASE("the reference's own files and quantities are read") {
  const std::string text = reference();
  std::size_t files = 0;
  for (std::size_t at = text.find("```yaml\nformat: "); at != std::string::npos;
       at = text.find("```yaml\nformat: ", at + 1)) {
    const std::string block = text.substr(at + 8, text.find("```", at + 8) - at - 8);
    INFO(block);
    for (const FileKind kind : file_kinds) {
      if (!block.starts_with("format: mintspread " + std::string(name_of(kind)))) continue;
      const Source source("reference.md", "", block);
      Context context(disk_files());
      const auto tree = parse_yaml(source, context.findings);
      REQUIRE(tree);
      check_file(*tree, kind, context);
      // The coin file leaves its route out.
      CHECK(context.findings.errors() == (kind == FileKind::coin ? 1 : 0));
      ++files;
    }
  }
  CHECK(files == 5);
  for (const char* quantity :
       {"18 um", "18 um +/- 2 um", "18 um +/- 12 %", "18 um +3/-1 um", "16 .. 20 um", "18 +/- 2 um"}) {
    CHECK(text.find("`" + std::string(quantity) + "`") != std::string::npos);
    CHECK(test::refusal(test::coin_with(quantity)).empty());
  }
}
