#include "specs/context.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "engine/base/nearest.hpp"
#include "specs/number.hpp"

namespace mintspread::specs {

namespace {
constexpr std::size_t few = 8;
}  // namespace

Context::Context(const FileReader& file_reader) : files_(file_reader) {
  model.groups.push_back({"piece", 1, "", "", 1});
  model.groups.push_back({"reading", 1, "", "", 1});
}

const Source& Context::keep(std::string name, std::string directory, std::string text) {
  const Source& source = sources_.emplace_back(std::move(name), std::move(directory), std::move(text));
  findings.met(source);
  return source;
}

const Source* Context::open(const Node& by, const std::string& path, const std::string& what) {
  const std::string name = beside(by.at.source->directory(), single_blanks(by.text));
  FileText read = files_(name);
  if (!read.text) {
    findings.error(by.at, path, fmt::format("{} `{}` cannot be read: {}", what, name, read.error),
                   "Paths are relative to the file that names them.");
    return nullptr;
  }
  return &keep(name, std::filesystem::path(name).parent_path().string(), std::move(*read.text));
}

const Source* Context::open(const std::string& name) {
  FileText read = files_(name);
  if (!read.text) {
    const Source& nothing = keep(name, "", "");
    findings.error({&nothing, 0}, "", "the specification cannot be read: " + read.error, "");
    return nullptr;
  }
  return &keep(name, std::filesystem::path(name).parent_path().string(), std::move(*read.text));
}

InputId Context::add(study::Input input) {
  model.inputs.push_back(std::move(input));
  return static_cast<InputId>(model.inputs.size() - 1);
}

void Context::located(const std::string& path, At at) { places.emplace(path, at); }

void Context::report(const Problem& problem, At otherwise) {
  const At* at = nearest_place(places, problem.path);
  findings.error(at ? *at : otherwise, problem.path, problem.what, problem.remedy);
}

std::optional<std::size_t> Context::level(const std::string& name, At at, const std::string& path) {
  std::vector<std::string> known;
  for (std::size_t i = 0; i < model.groups.size(); ++i) {
    if (model.groups[i].name == name) return i;
    known.push_back(model.groups[i].name);
  }
  if (!groups_known) return study::piece_level;
  findings.error(
      at, path,
      fmt::format("`{}` is no group of this specification, so it is not known which pieces share a value", name),
      suggest(name, known));
  return std::nullopt;
}

std::string beside(const std::string& directory, const std::string& name) {
  return (std::filesystem::path(directory) / name).lexically_normal().string();
}

std::string below(const std::string& path, const std::string& key) { return path.empty() ? key : path + "." + key; }

std::string suggest(std::string_view word, const std::vector<std::string>& known) {
  if (const std::string_view near = nearest(word, known); !near.empty()) return fmt::format("Did you mean `{}`?", near);
  if (known.empty() || known.size() > few) return {};
  std::string all;
  for (const std::string& name : known) all += (all.empty() ? "" : ", ") + ("`" + name + "`");
  return (known.size() == 1 ? "Known is " : "Known are ") + all + ".";
}

}  // namespace mintspread::specs
