#include "specs/tree.hpp"

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <set>
#include <sstream>
#include <utility>

#include "specs/yaml_fault.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t deepest = 32;
constexpr std::size_t most_values = 20000;
constexpr std::size_t largest_text = std::size_t{1} << 20;
constexpr const char* plain_yaml = "Specifications are plain YAML: keys, values and lists, one document a file.";

struct Stop {};

/// Builds the tree from yaml-cpp's events and refuses what the events show and its node API hides.
class TreeBuilder : public YAML::EventHandler {
 public:
  TreeBuilder(const Source& source, Findings& findings) : source_(source), findings_(findings) {}

  bool any() const { return documents_ > 0; }
  Node take() { return std::move(root_); }
  /// Innermost bracket that is open, npos when none is.
  std::size_t open_bracket() const {
    for (auto frame = frames_.rbegin(); frame != frames_.rend(); ++frame)
      if (frame->bracket) return frame->node->at.offset;
    return std::string::npos;
  }

  void OnDocumentStart(const YAML::Mark& mark) override {
    // Stopping here also ends the endless documents that yaml-cpp 0.7 makes of a lone comma.
    if (documents_++ > 0) stop(mark, "a second document begins here; everything after it would be ignored", plain_yaml);
  }
  void OnDocumentEnd() override {}
  void OnAnchor(const YAML::Mark& mark, const std::string&) override { anchor(mark); }

  void OnNull(const YAML::Mark& mark, YAML::anchor_t named) override {
    if (named != 0) anchor(mark);
    Frame* frame = frames_.empty() ? nullptr : &frames_.back();
    const bool key_alone = frame && frame->node->kind == Node::Kind::mapping && !frame->key_due &&
                           !colon_follows(frame->node->entries.back());
    if (key_alone) lone_key(frame->node->entries.back());
    place(mark, Node::Kind::empty, {}).refused = key_alone;
  }

  void OnAlias(const YAML::Mark& mark, YAML::anchor_t) override {
    findings_.error(at(mark), "", "an alias (`*name`) is not allowed: a value must stand where it is used", plain_yaml);
    place(mark, Node::Kind::empty, {}).refused = true;
  }

  void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t named,
                const std::string& text) override {
    if (named != 0) anchor(mark);
    check_tag(mark, tag);
    const std::string_view raw = std::string_view(source_.text()).substr(at(mark).offset);
    if (tag == "!" && quote_stays_open(raw)) stop(mark, "the quote that opens here is never closed", "");
    Frame* frame = frames_.empty() ? nullptr : &frames_.back();
    if (frame && frame->node->kind == Node::Kind::mapping && frame->key_due) {
      key(mark, text, tag == "!");
      return;
    }
    place(mark, Node::Kind::text, text);
  }

  void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t named,
                       YAML::EmitterStyle::value style) override {
    open(mark, tag, named, style, Node::Kind::list);
  }
  void OnSequenceEnd() override { frames_.pop_back(); }
  void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t named,
                  YAML::EmitterStyle::value style) override {
    open(mark, tag, named, style, Node::Kind::mapping);
  }
  void OnMapEnd() override {
    // Later code relies on keys being unique: of two, the first stands.
    if (frames_.back().twice) {
      std::vector<Entry>& entries = frames_.back().node->entries;
      std::set<std::string> before;
      std::erase_if(entries, [&](const Entry& entry) { return !before.insert(entry.key).second; });
    }
    frames_.pop_back();
  }

 private:
  struct Frame {
    Node* node;
    bool bracket;
    bool key_due;
    bool twice = false;  ///< a key stands twice
  };

  At at(const YAML::Mark& mark) const {
    return {&source_, std::min(source_.line_start(static_cast<std::size_t>(std::max(mark.line, 0))) +
                                   static_cast<std::size_t>(std::max(mark.column, 0)),
                               source_.text().size())};
  }
  /// Whether a key of one plain line has its colon; others are given the benefit of the doubt.
  bool colon_follows(const Entry& entry) const {
    const std::string& raw = source_.text();
    if (raw.compare(entry.at.offset, entry.key.size(), entry.key) != 0) return true;
    const std::size_t next = raw.find_first_not_of(' ', entry.at.offset + entry.key.size());
    return next != std::string::npos && raw[next] == ':';
  }
  [[noreturn]] void stop(const YAML::Mark& mark, const std::string& what, const char* remedy) {
    findings_.error(at(mark), "", what, remedy);
    throw Stop{};
  }
  void anchor(const YAML::Mark& mark) {
    findings_.error(at(mark), "", "an anchor (`&name`) is not allowed: a value must stand where it is used",
                    plain_yaml);
  }
  void check_tag(const YAML::Mark& mark, const std::string& tag) {
    const std::size_t offset = at(mark).offset;
    const bool written =
        tag != "?" && !tag.empty() && (tag != "!" || (offset < source_.text().size() && source_.text()[offset] == '!'));
    if (written) findings_.error(at(mark), "", "a tag (`!name`) is not allowed", plain_yaml);
  }
  void lone_key(const Entry& entry) {
    const std::size_t colon = entry.key.find(':');
    if (colon != std::string::npos)
      findings_.error({&source_, entry.at.offset + colon}, "",
                      "no blank after the colon, so `" + entry.key + "` is read as one word",
                      "Write `" + entry.key.substr(0, colon) + ": " + entry.key.substr(colon + 1) + "`.");
    else
      findings_.error(entry.at, "", "`" + entry.key + "` has no colon and no value",
                      "Write `" + entry.key + ": VALUE`.");
  }
  static bool quote_stays_open(std::string_view raw) {
    if (raw.empty() || (raw[0] != '"' && raw[0] != '\'')) return false;
    for (std::size_t i = 1; i < raw.size(); ++i) {
      if (raw[i] == raw[0]) return false;  // a doubled single quote closes and opens again
      if (raw[0] == '"' && raw[i] == '\\') ++i;
    }
    return true;
  }

  void key(const YAML::Mark& mark, const std::string& text, bool quoted) {
    Frame& frame = frames_.back();
    if (text == "<<" && !quoted) findings_.error(at(mark), "", "a merge key (`<<`) is not allowed", plain_yaml);
    if (const Entry* first = frame.node->find(text)) {
      frame.twice = true;
      const Place before = first->at.source->place(first->at.offset);
      findings_.error(
          at(mark), "",
          "the key `" + text + "` stands twice in one mapping; the first is in line " + std::to_string(before.line),
          "Keep one of them.");
    }
    frame.node->entries.push_back({text, at(mark), {}});
    frame.key_due = false;
  }

  /// yaml-cpp takes a bracket that is never closed for the beginning of a key.
  [[noreturn]] void refuse_key(const YAML::Mark& mark) {
    if (bracket_stays_open(std::string_view(source_.text()).substr(at(mark).offset)))
      stop(mark, "the bracket `" + source_.text().substr(at(mark).offset, 1) + "` that opens here is never closed", "");
    stop(mark, "a key must be text", plain_yaml);
  }
  static bool bracket_stays_open(std::string_view raw) {
    if (raw.empty() || (raw[0] != '[' && raw[0] != '{')) return false;
    std::size_t depth = 0;
    char quote = 0;
    for (std::size_t i = 0; i < raw.size(); ++i) {
      const char c = raw[i];
      if (quote != 0) {
        if (c == '\\' && quote == '"')
          ++i;
        else if (c == quote)
          quote = 0;
      } else if (c == '"' || c == '\'') {
        quote = c;
      } else if (c == '[' || c == '{') {
        ++depth;
      } else if ((c == ']' || c == '}') && --depth == 0) {
        return false;
      }
    }
    return true;
  }

  Node& place(const YAML::Mark& mark, Node::Kind kind, const std::string& text) {
    if (++values_ > most_values)
      stop(mark, "more than 20000 values stand in this file, which no specification has", "");
    Node* node = &root_;
    if (!frames_.empty()) {
      Frame& frame = frames_.back();
      if (frame.node->kind == Node::Kind::list) {
        node = &frame.node->items.emplace_back();
      } else {
        if (frame.key_due) refuse_key(mark);
        node = &frame.node->entries.back().value;
        frame.key_due = true;
      }
    }
    node->kind = kind;
    node->at = at(mark);
    node->text = text;
    return *node;
  }

  void open(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t named, YAML::EmitterStyle::value style,
            Node::Kind kind) {
    if (named != 0) anchor(mark);
    check_tag(mark, tag);
    if (frames_.size() >= deepest) stop(mark, "values are nested deeper than 32 levels", "");
    Node& node = place(mark, kind, {});
    frames_.push_back({&node, style == YAML::EmitterStyle::Flow, true});
  }

  const Source& source_;
  Findings& findings_;
  Node root_;
  std::vector<Frame> frames_;
  int documents_ = 0;
  std::size_t values_ = 0;
};

/// What must hold of the bytes before YAML is tried.
bool sound_text(const Source& source, Findings& findings) {
  const std::string& text = source.text();
  if (text.size() > largest_text) {
    findings.error({&source, 0}, "", "the file is larger than 1 MiB, which no specification is",
                   "Check that this is the right file.");
    return false;
  }
  if (const std::size_t bad = first_invalid_utf8(text); bad != std::string::npos) {
    findings.error({&source, bad}, "", "this byte is not UTF-8 text", "Save the file as UTF-8.");
    return false;
  }
  bool sound = true;
  for (std::size_t i = 0; i < text.size() && sound; ++i) {
    const char c = text[i];
    const bool lone_return = c == '\r' && (i + 1 >= text.size() || text[i + 1] != '\n');
    if ((static_cast<unsigned char>(c) < 0x20 && c != '\n' && c != '\t' && c != '\r') || c == 0x7F || lone_return) {
      findings.error({&source, i}, "", "a control character stands here, which no text file has",
                     "Remove it; lines end with a line feed.");
      sound = false;
    }
  }
  for (std::size_t line = 0; line < source.line_count(); ++line) {
    const std::size_t start = source.line_start(line), content = text.find_first_not_of(" \t", start);
    if (content == std::string::npos || text[content] == '\n' || text[content] == '\r' || text[content] == '#')
      continue;
    // Only up to the content: a search to the end of the text in every line would take quadratic time.
    const std::string_view indentation = std::string_view(text).substr(start, content - start);
    if (const std::size_t tab = indentation.find('\t'); tab != std::string_view::npos) {
      findings.error({&source, start + tab}, "", "a tab stands in the indentation; YAML does not say how wide it is",
                     "Indent with blanks.");
      sound = false;
    }
    const bool before_content = text.find_first_not_of(" \t\r\n") >= content;
    if (before_content && text[start] == '%') {
      findings.error({&source, start}, "", "a directive (`%NAME`) is not allowed", plain_yaml);
      sound = false;
    }
  }
  return sound;
}

}  // namespace

const Entry* Node::find(std::string_view key) const {
  const auto found = std::find_if(entries.begin(), entries.end(), [&](const Entry& e) { return e.key == key; });
  return found == entries.end() ? nullptr : &*found;
}

Entry* Node::find(std::string_view key) { return const_cast<Entry*>(std::as_const(*this).find(key)); }

At Node::at_byte(std::size_t i) const {
  const std::string& raw = at.source->text();
  const std::size_t quote = at.offset < raw.size() && (raw[at.offset] == '"' || raw[at.offset] == '\'') ? 1 : 0;
  const bool verbatim =
      kind == Kind::text && raw.compare(std::min(at.offset + quote, raw.size()), text.size(), text) == 0;
  return verbatim ? At{at.source, at.offset + quote + i} : at;
}

std::optional<Node> parse_yaml(const Source& source, Findings& findings) {
  findings.met(source);
  if (!sound_text(source, findings)) return std::nullopt;
  TreeBuilder builder(source, findings);
  try {
    std::istringstream stream(source.text());
    YAML::Parser parser(stream);
    while (parser.HandleNextDocument(builder)) {
    }
  } catch (const Stop&) {
    return std::nullopt;
  } catch (const YAML::Exception& exception) {
    report_yaml_fault(source, exception.mark.line, exception.mark.column, exception.msg, builder.open_bracket(),
                      findings);
    return std::nullopt;
  }
  if (!builder.any()) {
    findings.error({&source, 0}, "", "the file is empty", "");
    return std::nullopt;
  }
  return builder.take();
}

std::optional<Node> parse_override(const Source& source, Findings& findings) {
  const std::string& text = source.text();
  const std::size_t first = text.find_first_not_of(" \t\r\n");
  if (first != std::string::npos && std::string_view("[{\"'").find(text[first]) != std::string_view::npos)
    return parse_yaml(source, findings);
  findings.met(source);
  if (!sound_text(source, findings)) return std::nullopt;
  if (first == std::string::npos) {
    findings.error({&source, 0}, "", "the override has no value", "Write `--set PATH=VALUE`.");
    return std::nullopt;
  }
  Node node;
  node.kind = Node::Kind::text;
  node.at = {&source, first};
  node.text = text.substr(first, text.find_last_not_of(" \t\r\n") + 1 - first);
  return node;
}

}  // namespace mintspread::specs
