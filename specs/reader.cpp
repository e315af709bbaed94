#include "specs/reader.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "engine/base/sha256.hpp"
#include "specs/canonical.hpp"
#include "specs/check.hpp"
#include "specs/context.hpp"
#include "specs/gauged_layers.hpp"
#include "specs/groups.hpp"
#include "specs/materials.hpp"
#include "specs/override.hpp"
#include "specs/route.hpp"
#include "specs/section.hpp"
#include "specs/sensor.hpp"
#include "specs/sorts.hpp"
#include "specs/windows.hpp"

namespace mintspread::specs {

namespace {

constexpr std::size_t most_includes = 32;
constexpr std::size_t longest_kept_line = 4096;

/// The files of one kind that a coin file names.
struct Includes {
  std::vector<std::unique_ptr<Node>> trees;
  bool complete = true;  ///< all could be read and are of the right kind

  std::vector<Node*> changeable() const {
    std::vector<Node*> all;
    for (const auto& tree : trees) all.push_back(tree.get());
    return all;
  }
  std::vector<const Node*> sound() const {
    std::vector<const Node*> all;
    for (const auto& tree : trees)
      if (!tree->refused) all.push_back(tree.get());
    return all;
  }
};

class SpecificationReader {
 public:
  SpecificationReader(const std::string& path, std::span<const Override> overrides, const FileReader& files)
      : path_(path), context_(files) {
    const Source* source = context_.open(path);
    overrides_ = parse_overrides(overrides, std::filesystem::path(path).parent_path().string(), context_);
    if (source == nullptr) return;
    coin_ = parse_yaml(*source, context_.findings);
  }

  Specification read() {
    for (const ParsedOverride& override : overrides_)
      if (file_of(override) == FileKind::gauge) context_.gauge_overrides.push_back(&override);
    if (coin_) {
      apply(FileKind::coin, std::vector<Node*>{&*coin_});
      if (check_file(*coin_, FileKind::coin, context_)) read_all(Fields(*coin_, ""));
    }
    if (context_.findings.any_error()) throw RejectedSpecification(context_.findings.sorted());
    Specification out;
    out.model = std::move(context_.model);
    out.file = path_;
    out.warnings = context_.findings.sorted();
    for (const auto& [path, at] : context_.places)
      out.places.emplace(path, Located{at.source->place(at.offset),
                                       std::string(at.source->line(at.offset).substr(0, longest_kept_line))});
    out.canonical =
        canonical_text(*coin_, *sensor_.trees.front(), windows_.sound(), materials_.sound(), context_.tables);
    out.hash = sha256(out.canonical);
    return out;
  }

 private:
  void apply(FileKind kind, const std::vector<Node*>& trees) {
    for (const ParsedOverride& override : overrides_)
      if (file_of(override) == kind) apply_override(override, kind, trees, context_);
  }

  void read_all(const Fields& coin) {
    open_includes(coin, "materials", FileKind::materials, materials_);
    open_includes(coin, "sensor", FileKind::sensor, sensor_);
    open_includes(coin, "windows", FileKind::windows, windows_);
    if (const Node* about = coin["coin"]) {
      const Fields f(*about, "coin");
      context_.model.name = f.text("name");
      context_.model.state = f.text("state");
      if (!context_.model.state.empty()) context_.model.name += ", " + context_.model.state;
      context_.model.construction = f.text("construction");
      context_.model.note = f.text("note");
    }
    if (const Node* groups = coin["groups"])
      read_groups(*groups, context_);
    else
      context_.groups_known = !coin.stands("groups");
    const Handbook handbook(materials_.sound(), materials_.complete, context_);
    if (const Node* route = coin["route"]) read_route(*route, handbook, context_);
    if (const Node* section = coin["section"]) read_section(*section, handbook, context_);
    const std::vector<const Node*> sensor = sensor_.sound();
    if (!sensor.empty()) read_sensor(*sensor.front(), handbook, context_);
    if (const Node* route = coin["route"]; route && !sensor.empty()) read_sorts(*route, context_);
    for (const Node* windows : windows_.sound())
      read_windows(*windows, sensor.empty() ? nullptr : sensor.front(), context_);
    if (const Node* correlations = coin["correlations"]; correlations && !context_.findings.any_error())
      read_correlations(*correlations, context_);
    if (!context_.findings.any_error()) warn_of_layers_read_together(context_);
    if (const Node* targets = coin["targets"]) read_targets(*targets, windows_.complete, context_);
    // After other errors a quantity may not have been read that names the gauge.
    if (!context_.findings.any_error()) report_gauge_overrides(context_);
  }

  void open_includes(const Fields& coin, const std::string& key, FileKind kind, Includes& to) {
    const Node* named = coin[key];
    if (named == nullptr) {
      to.complete = !coin.stands(key) && kind == FileKind::windows;
      if (!coin.stands(key)) apply(kind, {});
      return;
    }
    std::vector<const Node*> names;
    if (named->kind == Node::Kind::text) names.push_back(named);
    for (const Node& item : named->items) names.push_back(&item);
    if (names.size() > most_includes) {
      context_.findings.error(named->at, key, fmt::format("more than {} files are named", most_includes), "");
      to.complete = false;
      return;
    }
    std::vector<std::string> before = {std::filesystem::path(path_).lexically_normal().string()};
    for (const Node* name : names) {
      to.complete = !name->refused && include(*name, key, kind, before, to) && to.complete;
    }
    apply(kind, to.changeable());
    for (const auto& tree : to.trees)
      if (!check_file(*tree, kind, context_)) {
        tree->refused = true;
        to.complete = false;
      }
  }

  bool include(const Node& name, const std::string& key, FileKind kind, std::vector<std::string>& before,
               Includes& to) {
    const std::string file = beside(name.at.source->directory(), single_blanks(name.text));
    if (const auto same = std::find(before.begin(), before.end(), file); same != before.end()) {
      context_.findings.error(
          name.at, key,
          same == before.begin() ? fmt::format("the file includes itself as its {} file", name_of(kind))
                                 : fmt::format("`{}` is named twice", file),
          same == before.begin() ? fmt::format("Name a file that begins with `format: mintspread {} 1`.", name_of(kind))
                                 : "Keep one of them.");
      return false;
    }
    before.push_back(file);
    const Source* source = context_.open(name, key, fmt::format("the {} file", name_of(kind)));
    if (source == nullptr) return false;
    auto tree = parse_yaml(*source, context_.findings);
    if (!tree) return false;
    to.trees.push_back(std::make_unique<Node>(std::move(*tree)));
    return true;
  }

  std::string path_;
  Context context_;
  std::vector<ParsedOverride> overrides_;
  std::optional<Node> coin_;
  Includes materials_, sensor_, windows_;
};

}  // namespace

Specification read_specification(const std::string& path, std::span<const Override> overrides,
                                 const FileReader& files) {
  return SpecificationReader(path, overrides, files).read();
}

std::vector<Diagnostic> place_problems(const Specification& specification, std::span<const Problem> problems,
                                       Severity severity) {
  std::vector<Diagnostic> out;
  for (const Problem& problem : problems) {
    const Located* located = nearest_place(specification.places, problem.path);
    out.push_back({located ? located->place : Place{specification.file, 0, 0}, problem.path, problem.what,
                   problem.remedy, located ? located->source_line : "", severity});
  }
  return out;
}

}  // namespace mintspread::specs
