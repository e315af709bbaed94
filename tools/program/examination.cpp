#include "tools/program/examination.hpp"

#include <fmt/format.h>

#include <cstdio>

#include "engine/base/contract.hpp"

namespace mintspread::program {

using specs::Severity;

Examination::Examination(const Request& request, const Console& console)
    : request_(request), colour_(console.message_colour ? specs::Colour::ansi : specs::Colour::none) {
  for (const auto& [path, text] : request.overrides) overrides_.push_back({path, text});
}

std::optional<specs::Specification> Examination::read(const std::filesystem::path& file) {
  try {
    specs::Specification specification = specs::read_specification(file.string(), overrides_);
    tell(specification.warnings);
    return specification;
  } catch (const specs::RejectedSpecification& error) {
    tell(error.diagnostics);
    return std::nullopt;
  }
}

std::optional<study::Study> Examination::prepare(const std::optional<specs::Specification>& specification) {
  if (!specification) return std::nullopt;
  try {
    return study::Study(specification->model,
                        {.planar_tolerance = request_.tolerance, .provisional = !request_.planar});
  } catch (const InvalidSpecification& error) {
    tell(specs::place_problems(*specification, error.problems()));
    return std::nullopt;
  }
}

void Examination::tell_warnings(const specs::Specification& specification, const study::Study& study) {
  tell(specs::place_problems(specification, study.warnings(), Severity::warning));
}

void Examination::reject(const specs::Specification& specification, std::span<const Problem> problems) {
  expect(!problems.empty(), "there is a reason");
  tell(specs::place_problems(specification, problems));
  throw Rejected(
      fmt::format("{} {}; nothing of this coin was written", mistakes_, mistakes_ == 1 ? "mistake" : "mistakes"));
}

void Examination::tell(std::span<const specs::Diagnostic> diagnostics) {
  for (const specs::Diagnostic& diagnostic : diagnostics) {
    const bool mistake = diagnostic.severity == Severity::error;
    mistakes_ += mistake ? 1 : 0;
    if (mistake || !request_.quiet) std::fputs(specs::render(diagnostic, colour_).c_str(), stderr);
  }
}

void Examination::finish(const std::string& consequence) const {
  if (mistakes_ > 0)
    throw Rejected(fmt::format("{} {}; {}", mistakes_, mistakes_ == 1 ? "mistake" : "mistakes", consequence));
}

}  // namespace mintspread::program
