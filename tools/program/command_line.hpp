#pragma once

#include <cstddef>
#include <cstdint>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

#include "engine/study/precision.hpp"
#include "reports/page.hpp"

namespace mintspread::program {

/// The command line asks for something this program does not do. The message names what was read and what is accepted.
class UsageError : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

enum class Command { help, version, run, reading, check, fit };

/// Whether a run may be answered from the store, and whether its result is kept there.
enum class Storing { use, refresh, off };

/// What the command line asks for. A name of an output is a file, `-` for standard output, or a directory.
struct Request {
  Command command = Command::help;
  std::string help;  ///< text of the help asked for

  std::vector<std::filesystem::path> specifications;           ///< or the table of `fit`
  std::vector<std::pair<std::string, std::string>> overrides;  ///< path and value, in the order given

  std::uint64_t pieces = 262144;
  std::optional<study::Precision> until;
  bool sobol = true;              ///< scrambled Sobol' points, else plain draws
  bool shares = false;            ///< shares of variance as well
  std::size_t lots = 0;           ///< lots of the nested design as well; 0: none
  std::string lot;                ///< group that is a lot; empty: the largest that stands alone
  std::vector<double> lot_rates;  ///< rejected fractions of a lot whose chances are asked for beside the usual ones
  std::uint64_t seed = 1;
  std::size_t outer_draws = 24;
  bool planar = false;      ///< coins of unlimited width instead of finite ones
  double tolerance = 1e-6;  ///< of the planar quadrature, relative to |dZ|
  std::size_t threads = 0;  ///< 0: as many as the machine has
  std::optional<std::string> samples;
  std::optional<std::string> json, csv, page;
  reports::Audience audience = reports::Audience::engineer;  ///< who reads the page
  bool times = true;
  Storing storing = Storing::use;
  bool quiet = false;

  // Of fit. Texts with units are understood once the column's unit is known.
  std::vector<std::string> columns, groups, gauges;
  std::optional<std::string> unit, bias, repeatability, resolution, sorted;
  std::size_t draws = 199;
};

/// Reads the arguments after the program's name. Throws UsageError.
Request read_command_line(const std::vector<std::string>& arguments);

}  // namespace mintspread::program
