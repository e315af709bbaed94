#include "specs/tree.hpp"

#include <catch2/catch.hpp>

using namespace mintspread::specs;

namespace {

/// "line:column what" of everything found.
std::vector<std::string> faults(const std::string& text) {
  const Source source("t.yaml", "", text);
  Findings findings;
  parse_yaml(source, findings);
  std::vector<std::string> all;
  for (const Diagnostic& d : findings.sorted())
    all.push_back(std::to_string(d.place.line) + ":" + std::to_string(d.place.column) + " " + d.what + " " + d.remedy);
  return all;
}

void one_fault(const std::string& text, const std::string& place, const std::string& words) {
  INFO(text);
  const auto all = faults(text);
  REQUIRE(all.size() == 1);
  CHECK_THAT(all[0], Catch::StartsWith(place + " "));
  CHECK_THAT(all[0], Catch::Contains(words));
}

}  // namespace

TEST_CASE("a tree holds every scalar as text with its place") {
  const Source source("t.yaml", "", "a: 1\nlist: [x, 'y z', \"q\"]\nm: {k: null, \u00E9: 010}\n");
  Findings findings;
  const auto tree = parse_yaml(source, findings);
  REQUIRE(tree);
  CHECK_FALSE(findings.any_error());
  CHECK(tree->find("a")->value.text == "1");
  CHECK(tree->find("list")->value.items[1].text == "y z");
  CHECK(tree->find("m")->value.find("k")->value.kind == Node::Kind::empty);
  const Node& accented = tree->find("m")->value.find("\u00E9")->value;
  CHECK(accented.text == "010");
  // Columns count characters, not bytes.
  CHECK(source.place(accented.at.offset).column == 17);
  CHECK(source.place(tree->find("list")->value.items[1].at_byte(2).offset).column == 14);
}

TEST_CASE("line ends of other systems and a byte order mark change nothing") {
  const Source source("t.yaml", "", "a: 1\r\nb: 2\r\n");
  Findings findings;
  const auto tree = parse_yaml(source, findings);
  REQUIRE(tree);
  CHECK(tree->find("b")->value.text == "2");
  CHECK(source.line(tree->find("a")->value.at.offset) == "a: 1");
  const std::string mark = "\xEF\xBB\xBF";
  CHECK_THAT(faults(mark + "a: 1\na: 2\n").at(0), Catch::StartsWith("2:1 "));
  CHECK_THAT(faults(mark + "{a: 1, a: 2}\n").at(0), Catch::StartsWith("1:8 "));
}

TEST_CASE("what yaml-cpp passes silently is refused where it stands") {
  one_fault("a: 1\nb: 2\na: 3\n", "3:1", "twice");
  one_fault("m: {x: 1, x: 2}\n", "1:11", "twice");
  one_fault("a: &name 1\n", "1:4", "anchor");
  one_fault("a: !!str 1\n", "1:4", "tag");
  one_fault("a: !local {b: 1}\n", "1:4", "tag");
  one_fault("a: ! x\n", "1:4", "tag");
  one_fault("<<: {b: 1}\n", "1:1", "merge key");
  one_fault("a: 1\n---\nb: 2\n", "2:1", "second document");
  one_fault("%YAML 1.2\n---\na: 1\n", "1:1", "directive");
  one_fault(",", "1:1", "second document");
  one_fault("a: 'x\nb: 2\n", "1:4", "never closed");
  one_fault("a: \"x\nb: 2\n", "1:4", "never closed");
  one_fault("? [x]\n: 1\n", "1:3", "key must be text");
  one_fault("a: {b:1}\n", "1:6", "no blank after the colon");
  one_fault("x: 1\na:5\n", "2:2", "no blank after the colon");
  one_fault("x: 1\nabc\n", "2:1", "no colon");
}

TEST_CASE("of two keys of one name the first stands") {
  const Source source("t.yaml", "", "a: 1\nm: {x: 1, x: 2}\na: 3\n");
  Findings findings;
  const auto tree = parse_yaml(source, findings);
  REQUIRE(tree);
  CHECK(tree->entries.size() == 2);
  CHECK(tree->find("a")->value.text == "1");
  CHECK(tree->find("m")->value.entries.size() == 1);
}

TEST_CASE("an alias is refused even when it leads back to itself") {
  const auto all = faults("a: &x [*x]\n");
  REQUIRE(all.size() == 2);
  CHECK_THAT(all[0], Catch::StartsWith("1:4 ") && Catch::Contains("anchor"));
  CHECK_THAT(all[1], Catch::StartsWith("1:8 ") && Catch::Contains("alias"));
  one_fault("a: *nobody\n", "1:4", "alias");
}

TEST_CASE("what yaml-cpp blames on the wrong place is reported where it is to be mended") {
  one_fault("a: {b: 1\nc: 2\n", "1:4", "bracket `{` that opens here is not closed");
  one_fault("a: 1\nb: [1, 2\nc: 3\nd: 4\n", "2:4", "bracket `[` that opens here is not closed");
  one_fault("a: {b: [1, 2}\n", "1:8", "bracket `[`");
  one_fault("a: {b: 1", "1:4", "bracket `{`");
  one_fault("x: 1\na:5\nc: 2\n", "2:2", "no blank after the colon");
  one_fault("a:5\nb: 6\n", "1:2", "no blank after the colon");
  one_fault("a:\n\tb: 1\n", "2:1", "tab");
  one_fault("a: nickel: good\n", "1:10", "second colon");
  one_fault("a: 1\n b: 2\n", "2:2", "indented");
  one_fault("a: - b\n", "1:4", "list cannot begin in the line of its key");
  one_fault("a: @x\n", "1:4", "cannot begin with this character");
  one_fault("a: {b: 1}}\n", "1:10", "closes nothing");
  one_fault("a:\n  - b\n  c: d\n", "3:3", "fits neither");
  one_fault("a: \"x\\q\"\n", "1:7", "escape");
}

TEST_CASE("text that is no text is refused before it is parsed") {
  one_fault("a: K\xE4lte\n", "1:5", "not UTF-8");      // Latin-1
  one_fault("a: \xC0\x80\n", "1:4", "not UTF-8");      // overlong form
  one_fault("a: \xED\xA0\x80\n", "1:4", "not UTF-8");  // surrogate
  one_fault(std::string("a: \0b\n", 6), "1:4", "control character");
  one_fault("a: \x1B[31m\n", "1:4", "control character");
  one_fault("a: b\rc: d\n", "1:5", "control character");
  one_fault("", "1:1", "empty");
  one_fault("# only a comment\n", "1:1", "empty");
  one_fault(std::string((1 << 20) + 1, 'a'), "1:1", "1 MiB");
}

TEST_CASE("nesting ends at 32 levels, at the level that is too deep") {
  const auto nested = [](std::size_t levels) {
    return "a: " + std::string(levels, '[') + std::string(levels, ']') + "\n";
  };
  CHECK(faults(nested(31)).empty());
  CHECK_THAT(faults(nested(32)).at(0), Catch::StartsWith("1:35 ") && Catch::Contains("32 levels"));
  CHECK_THAT(faults(std::string(200000, '[')).at(0), Catch::Contains("never closed"));
}

TEST_CASE("a file of more values than any specification has is refused before it takes time") {
  std::string keys;
  for (int i = 0; i < 20001; ++i) keys += "k" + std::to_string(i) + ": 1\n";
  one_fault(keys, "20000:9", "20000 values");
}

TEST_CASE("every problem of a text is told at once") {
  const auto all = faults("a: &x 1\nb: !t 2\na: 3\n<<: 4\n");
  CHECK(all.size() == 4);
}

TEST_CASE("an override is YAML only where it begins like it") {
  Findings findings;
  const Source plain("--set a", "", " >= 99 % ");
  CHECK(parse_override(plain, findings)->text == ">= 99 %");
  const Source flow("--set a", "", "{known to: 1 .. 2}");
  CHECK(parse_override(flow, findings)->find("known to")->value.text == "1 .. 2");
  const Source quoted("--set a", "", "\"x y\"");
  CHECK(parse_override(quoted, findings)->text == "x y");
  CHECK_FALSE(findings.any_error());
  const Source empty("--set a", "", "  ");
  CHECK_FALSE(parse_override(empty, findings));
  const Source open("--set a", "", "{known to: 1 .. 2");
  CHECK_FALSE(parse_override(open, findings));
}

TEST_CASE("a diagnostic is one line in the style of compilers, the source line, and a caret below the place") {
  Diagnostic d{{"coin.yaml", 3, 4}, "bath.copper.thickness",  "it is wrong",
               "Mend it",           "\u00E9\u00E9 x\x1B[31m", Severity::error};
  CHECK(render(d, Colour::none) ==
        "coin.yaml:3:4: error: bath.copper.thickness: it is wrong. Mend it.\n    3 | \u00E9\u00E9 x\uFFFD[31m\n      | "
        "   ^\n");
  d.severity = Severity::warning;
  CHECK_THAT(render(d, Colour::ansi), Catch::Contains("\x1b[1;35mwarning"));
  d.source_line = std::string(5000, 'y');
  d.place.column = 3000;
  const std::string cut = render(d, Colour::none);
  CHECK(cut.size() < 600);
  const std::size_t line = cut.find('\n') + 1, second = cut.find('\n', line) + 1;
  CHECK(cut[cut.find('^') - second + line] == 'y');
}
