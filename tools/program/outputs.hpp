#pragma once

#include <filesystem>
#include <optional>
#include <vector>

#include "reports/samples.hpp"
#include "tools/program/command_line.hpp"

namespace mintspread::program {

/// Where the result of one specification goes; `-` is standard output.
struct Outputs {
  std::optional<std::filesystem::path> json, csv, page, samples;
};

/// Where all results of a request go.
struct OutputPlan {
  std::vector<Outputs> each;                        ///< in the order of the specifications
  std::optional<std::filesystem::path> comparison;  ///< one page of all coins: several specifications and `--page FILE`
  bool replaces_table = false;                      ///< standard output is taken by one of them
};

/// By the ending of a file's name.
std::optional<reports::SampleFormat> sample_format(const std::filesystem::path& path);

/// A directory stands for a file in it that is named after the specification.
/// Throws UsageError when two results would go to one place or a result would replace a specification, CannotWrite when
/// a file could not be written as things stand.
OutputPlan plan_outputs(const Request& request);

}  // namespace mintspread::program
