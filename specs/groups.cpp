#include "specs/groups.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <set>

#include "engine/study/production_order.hpp"
#include "specs/check.hpp"
#include "specs/constant.hpp"
#include "specs/number.hpp"
#include "specs/quantity.hpp"

namespace mintspread::specs {

namespace {

class GroupReader {
 public:
  GroupReader(const Node& node, Context& context) : node_(node), context_(context), groups_(context.model.groups) {}

  void read() {
    const std::size_t before = context_.findings.errors();
    for (const Entry& entry : node_.entries) {
      if (entry.value.refused) continue;
      const Fields f(entry.value, below("groups", entry.key));
      if (entry.key == "piece" || entry.key == "reading") {
        context_.findings.error(entry.at, f.path(),
                                fmt::format("the group `{}` always exists and cannot be defined", entry.key),
                                "Give this group another name.");
        continue;
      }
      study::Group group{entry.key, 1, f.text("from"), "", 1};
      if (const Node* pieces = f["pieces"])
        group.pieces = count(*pieces, f.path("pieces"), 0, pieces->text).value_or(1);
      if (const Node* in_turn = f["in turn"])
        group.in_turn = count(*in_turn, f.path("in turn"), 0, in_turn->text).value_or(0);
      if (const Node* mixes = f["mixes"]) read_mixes(*mixes, f.path("mixes"), group);
      groups_.push_back(std::move(group));
    }
    if (context_.findings.errors() == before)
      for (std::size_t i = 2; i < groups_.size(); ++i) check(groups_[i]);
    if (context_.findings.errors() == before) {
      std::vector<Problem> problems;
      study::ProductionOrder(groups_, problems);
      for (Problem& problem : problems) {
        problem.remedy[0] = static_cast<char>(std::toupper(problem.remedy[0]));
        context_.report(problem, node_.at);
      }
    }
    context_.groups_known = context_.findings.errors() == before;
  }

 private:
  std::optional<std::size_t> count(const Node& node, const std::string& path, std::size_t from, std::string_view text) {
    const auto read = count_text(text);
    if (const auto* fault = std::get_if<TextFault>(&read)) {
      context_.findings.error(node.at_byte(from + fault->at), path, fault->what, fault->remedy);
      return std::nullopt;
    }
    return std::get<std::size_t>(read);
  }

  /// "3 barrel"
  void read_mixes(const Node& node, const std::string& path, study::Group& group) {
    const std::string text = single_blanks(node.text);
    const std::size_t blank = text.find(' ');
    if (blank == std::string::npos) {
      context_.findings.error(node.at, path, "a number and a group stand here", "Write it like `3 barrel`.");
      return;
    }
    group.mixed_units = count(node, path, 0, text.substr(0, blank)).value_or(1);
    group.mixes = text.substr(blank + 1);
  }

  const study::Group* find(const std::string& name, const std::string& path, const Node& at) {
    std::vector<std::string> known;
    for (std::size_t i = 2; i < groups_.size(); ++i) {
      if (groups_[i].name == name) return &groups_[i];
      known.push_back(groups_[i].name);
    }
    context_.findings.error(at.at, path, fmt::format("`{}` is no group that pieces come in", name),
                            suggest(name, known));
    return nullptr;
  }

  void check(const study::Group& group) {
    const Node& node = node_.find(group.name)->value;
    const Fields f(node, below("groups", group.name));
    if (!group.from.empty() && !group.mixes.empty())
      return context_.findings.error(f["mixes"]->at, f.path("mixes"),
                                     "a group is part of one unit or mixes several, not both",
                                     "Keep `from` or `mixes`.");
    if (!group.from.empty()) {
      const study::Group* parent = find(group.from, f.path("from"), *f["from"]);
      if (parent && group.pieces > parent->pieces)
        context_.findings.error(f["pieces"]->at, f.path("pieces"),
                                fmt::format("a {} of {} pieces cannot be part of one {} of {}", group.name,
                                            group.pieces, parent->name, parent->pieces),
                                "Check both numbers, or state `mixes`.");
    }
    if (!group.mixes.empty()) {
      const study::Group* mixed = find(group.mixes, f.path("mixes"), *f["mixes"]);
      if (mixed && static_cast<double>(group.pieces) >
                       static_cast<double>(group.mixed_units) * static_cast<double>(mixed->pieces))
        context_.findings.error(
            f["pieces"]->at, f.path("pieces"),
            fmt::format("{} units of {} hold {} pieces, fewer than the {} of a {}", group.mixed_units, mixed->name,
                        group.mixed_units * mixed->pieces, group.pieces, group.name),
            "Check the numbers.");
    }
  }

  const Node& node_;
  Context& context_;
  std::vector<study::Group>& groups_;
};

}  // namespace

void read_groups(const Node& groups, Context& context) { GroupReader(groups, context).read(); }

void read_correlations(const Node& correlations, Context& context) {
  study::ProductionModel& model = context.model;
  std::vector<std::string> paths;
  for (const study::Input& input : model.inputs) paths.push_back(input.path);
  std::set<std::pair<std::size_t, std::size_t>> before;
  for (std::size_t i = 0; i < correlations.items.size(); ++i) {
    const Node& item = correlations.items[i];
    if (item.refused || item.kind != Node::Kind::mapping) continue;
    const Fields f(item, fmt::format("correlations.{}", i + 1));
    const Node *between = f["between"], *rank_node = f["rank"];
    const double rank = rank_node ? read_number(*rank_node, f.path("rank"), context).value_or(0) : 0;
    if (!(rank > -1 && rank < 1))
      context.findings.error(rank_node->at, f.path("rank"), "a rank correlation lies between -1 and 1, both excluded",
                             "Quantities that always move together are one quantity.");
    if (between == nullptr) continue;
    if (between->items.size() != 2) {
      context.findings.error(
          between->at, f.path("between"),
          fmt::format("a correlation is between two quantities, but {} stand here", between->items.size()), "");
      continue;
    }
    std::vector<std::size_t> ends;
    for (const Node& end : between->items) {
      if (end.refused) continue;
      const std::string path = single_blanks(end.text);
      const auto found = std::find_if(model.inputs.begin(), model.inputs.end(),
                                      [&](const study::Input& input) { return input.path == path; });
      if (found == model.inputs.end() || found->components.empty()) {
        context.findings.error(end.at, f.path("between"),
                               found == model.inputs.end()
                                   ? fmt::format("`{}` is no quantity of this specification", path)
                                   : fmt::format("`{}` does not vary, so nothing can go with it", path),
                               found == model.inputs.end() ? suggest(path, paths) : "State its spread.");
        continue;
      }
      ends.push_back(static_cast<std::size_t>(found - model.inputs.begin()));
    }
    if (ends.size() != 2) continue;
    if (ends[0] == ends[1]) {
      context.findings.error(between->at, f.path("between"), "a quantity is its own", "Name two different ones.");
      continue;
    }
    if (!before.insert(std::minmax(ends[0], ends[1])).second) {
      context.findings.error(between->at, f.path("between"), "this pair stands above already", "Keep one of them.");
      continue;
    }
    model.correlations.push_back({static_cast<InputId>(ends[0]), static_cast<InputId>(ends[1]), rank, f.path()});
  }
}

}  // namespace mintspread::specs
