#include "tools/program/command_line.hpp"

#include <fmt/format.h>

#include <CLI/CLI.hpp>
#include <algorithm>
#include <charconv>
#include <cmath>
#include <limits>

#include "engine/base/nearest.hpp"
#include "tools/program/help.hpp"
#include "tools/program/precision_text.hpp"

namespace mintspread::program {
namespace {

[[noreturn]] void refuse(const std::string& option, const std::string& text, const std::string& accepted) {
  throw UsageError(option + " takes " + accepted + ", not '" + text + "'");
}

/// A whole number in [smallest, largest], written 1000000 or 1e6.
std::uint64_t read_count(const std::string& option, const std::string& text, std::uint64_t smallest,
                         std::uint64_t largest) {
  const std::string accepted = "a whole number from " + std::to_string(smallest) + " to " + std::to_string(largest);
  const char* const end = text.data() + text.size();
  std::uint64_t whole = 0;
  if (const auto [rest, error] = std::from_chars(text.data(), end, whole); error == std::errc() && rest == end) {
    if (whole < smallest || whole > largest) refuse(option, text, accepted);
    return whole;
  }
  double value = 0.0;
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  constexpr double exact = 9007199254740992.0;  // whole numbers up to 2^53 are exact doubles
  if (error != std::errc() || rest != end || value != std::floor(value) || value < 0.0 || value > exact)
    refuse(option, text, accepted);
  whole = static_cast<std::uint64_t>(value);
  if (whole < smallest || whole > largest) refuse(option, text, accepted);
  return whole;
}

double read_fraction(const std::string& option, const std::string& text, double smallest, double largest) {
  double value = 0.0;
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  if (error != std::errc() || rest != end || !(value >= smallest && value <= largest))
    refuse(option, text, fmt::format("a number from {} to {}", smallest, largest));
  return value;
}

/// "0.3 %" as 0.003.
double read_per_cent(const std::string& option, const std::string& text) {
  double value = 0.0;
  const char* const end = text.data() + text.size();
  const auto [rest, error] = std::from_chars(text.data(), end, value);
  const std::string_view unit(rest, static_cast<std::size_t>(end - rest));
  if (error != std::errc() || (unit != "%" && unit != " %") || !(value > 0.0 && value < 100.0))
    refuse(option, text, "a part between 0 and 100 %, as in '0.3 %'");
  return value / 100.0;
}

std::pair<std::string, std::string> read_override(const std::string& text) {
  const auto equals = text.find('=');
  if (equals == std::string::npos || equals == 0)
    throw UsageError("--set takes PATH=VALUE, as in 'bath.copper.thickness=25 um +/- 2 um', not '" + text + "'");
  return {text.substr(0, equals), text.substr(equals + 1)};
}

/// Texts as they stand on the command line, before they are understood.
struct Texts {
  std::vector<std::string> specifications, overrides;
  std::optional<std::string> coins, until, at_most, points, lots, seed, outer, tolerance, threads, samples, json, csv,
      page, report, unit, bias, repeatability, resolution, sorted, draws;
  std::vector<std::string> lot_rates, columns, groups, gauges;
  bool shares = false, planar = false, no_times = false, fresh = false, no_store = false, quiet = false, help = false;
};

void take_text(CLI::App& app, const char* name, std::optional<std::string>& value) {
  app.add_option_function<std::string>(name, [&value](const std::string& text) { value = text; })
      ->allow_extra_args(false)
      ->multi_option_policy(CLI::MultiOptionPolicy::Throw);
}

void take_specifications(CLI::App& app, Texts& texts) {
  app.add_option("SPEC", texts.specifications);
  app.add_option("--set", texts.overrides)->allow_extra_args(false)->take_all();
  app.add_flag("--quiet", texts.quiet)->disable_flag_override();
}

void take_run(CLI::App& app, Texts& texts) {
  take_specifications(app, texts);
  take_text(app, "--coins", texts.coins);
  take_text(app, "--until", texts.until);
  take_text(app, "--at-most", texts.at_most);
  take_text(app, "--points", texts.points);
  app.add_flag("--shares", texts.shares)->disable_flag_override();
  take_text(app, "--lots", texts.lots);
  app.add_option("--lot-rate", texts.lot_rates)->allow_extra_args(false)->take_all();
  take_text(app, "--seed", texts.seed);
  take_text(app, "--outer", texts.outer);
  app.add_flag("--planar", texts.planar)->disable_flag_override();
  take_text(app, "--tolerance", texts.tolerance);
  take_text(app, "--threads", texts.threads);
  take_text(app, "--samples", texts.samples);
  take_text(app, "--json", texts.json);
  take_text(app, "--csv", texts.csv);
  take_text(app, "--page", texts.page);
  take_text(app, "--report", texts.report);
  app.add_flag("--no-times", texts.no_times)->disable_flag_override();
  app.add_flag("--fresh", texts.fresh)->disable_flag_override();
  app.add_flag("--no-store", texts.no_store)->disable_flag_override();
}

void take_reading(CLI::App& app, Texts& texts) {
  take_specifications(app, texts);
  app.add_flag("--planar", texts.planar)->disable_flag_override();
  take_text(app, "--tolerance", texts.tolerance);
  take_text(app, "--json", texts.json);
  app.add_flag("--no-times", texts.no_times)->disable_flag_override();
}

void take_fit(CLI::App& app, Texts& texts) {
  app.add_option("DATA", texts.specifications);
  app.add_option("--column", texts.columns)->allow_extra_args(false)->take_all();
  app.add_option("--group", texts.groups)->allow_extra_args(false)->take_all();
  app.add_option("--gauge", texts.gauges)->allow_extra_args(false)->take_all();
  take_text(app, "--unit", texts.unit);
  take_text(app, "--bias", texts.bias);
  take_text(app, "--repeatability", texts.repeatability);
  take_text(app, "--resolution", texts.resolution);
  take_text(app, "--sorted", texts.sorted);
  take_text(app, "--draws", texts.draws);
  take_text(app, "--seed", texts.seed);
  take_text(app, "--json", texts.json);
  take_text(app, "--page", texts.page);
  app.add_flag("--quiet", texts.quiet)->disable_flag_override();
}

struct CommandWords {
  Command command;
  std::string name;
  const char* help;
  void (*take)(CLI::App&, Texts&);
  const char* operand;  ///< what the command is told to work on
  std::size_t most_operands;
};

const std::vector<CommandWords>& commands() {
  constexpr std::size_t any = std::numeric_limits<std::size_t>::max();
  static const std::vector<CommandWords> all = {
      {Command::run, "run", run_help, take_run, "a specification", any},
      {Command::reading, "reading", reading_help, take_reading, "a specification", 1},
      {Command::check, "check", check_help, take_specifications, "a specification", any},
      {Command::fit, "fit", fit_help, take_fit, "a table of measurements", 1},
  };
  return all;
}

std::string hint(std::string_view word, const std::vector<std::string>& known) {
  const std::string_view near = nearest(word, known);
  return near.empty() ? "" : ": did you mean " + std::string(near) + "?";
}

[[noreturn]] void refuse_option(const std::string& argument, const CLI::App& app) {
  std::vector<std::string> known;
  for (const CLI::Option* option : app.get_options())
    for (const std::string& name : option->get_lnames()) known.push_back("--" + name);
  const std::string name = argument.substr(0, argument.find('='));
  throw UsageError("there is no option " + name + hint(name, known));
}

/// Our words for CLI11's "--seed: 1 required TEXT missing", "--seed: At Most 1 required but received 2",
/// "quiet was given a disallowed flag override".
std::string mismatch(const std::string& text) {
  const auto is_about = [&](const char* words) { return text.find(words) != std::string::npos; };
  if (is_about("disallowed flag override")) return "--" + text.substr(0, text.find(' ')) + " takes no value";
  const std::string option = text.substr(0, text.find(':'));
  if (is_about("missing")) return option + " needs a value";
  if (is_about("At Most")) return option + " is given twice";
  return text;
}

const CommandWords& find_command(const std::string& word) {
  std::vector<std::string> names;
  for (const CommandWords& words : commands()) {
    if (words.name == word) return words;
    names.push_back(words.name);
  }
  if (word.starts_with('-')) throw UsageError("the command comes first: mintspread COMMAND ... (mintspread --help)");
  const std::string near = hint(word, names);
  throw UsageError("there is no command '" + word + "'" + (near.empty() ? " (mintspread --help)" : near));
}

Request understand(const Texts& texts, const CommandWords& words) {
  Request request;
  request.command = words.command;
  const std::vector<std::string>& operands = texts.specifications;
  if (operands.empty()) throw UsageError("which? Name " + std::string(words.operand));
  if (operands.size() > words.most_operands)
    throw UsageError("'" + operands[words.most_operands] + "' is one too many");
  request.specifications.assign(operands.begin(), operands.end());
  for (const std::string& text : texts.overrides) request.overrides.push_back(read_override(text));
  if (texts.coins) request.pieces = read_count("--coins", *texts.coins, 1, 1000000000000);
  if (texts.until) request.until = read_precision(*texts.until);
  if (texts.at_most) {
    if (!request.until) throw UsageError("--at-most limits --until, which is not given");
    request.until->most_pieces = read_count("--at-most", *texts.at_most, 1, 1000000000000);
  }
  if (texts.points) {
    if (*texts.points != "plain" && *texts.points != "sobol") refuse("--points", *texts.points, "plain or sobol");
    request.sobol = *texts.points == "sobol";
  }
  request.shares = texts.shares;
  request.planar = texts.planar;
  if (texts.lots) {
    const std::size_t blank = texts.lots->find(' ');
    request.lots = read_count("--lots", texts.lots->substr(0, blank), 2, 100000);
    if (blank != std::string::npos) request.lot = texts.lots->substr(blank + 1);
  }
  for (const std::string& text : texts.lot_rates) {
    if (request.lots == 0) throw UsageError("--lot-rate asks for chances of lots, which --lots N draws");
    request.lot_rates.push_back(read_per_cent("--lot-rate", text));
  }
  if (texts.seed) request.seed = read_count("--seed", *texts.seed, 0, std::numeric_limits<std::uint64_t>::max());
  if (texts.outer) request.outer_draws = read_count("--outer", *texts.outer, 0, 10000);
  if (texts.tolerance) request.tolerance = read_fraction("--tolerance", *texts.tolerance, 1e-9, 1e-3);
  if (texts.threads) request.threads = read_count("--threads", *texts.threads, 1, 1024);
  const auto output = [](const char* option, const std::optional<std::string>& text) {
    if (text && text->size() > 1 && text->starts_with('-'))
      throw UsageError(std::string(option) + " takes a file, not '" + *text + "'; write ./" + *text +
                       " for such a name");
    if (text && text->empty()) throw UsageError(std::string(option) + " takes a file; the name is empty");
    return text;
  };
  request.samples = output("--samples", texts.samples);
  request.json = output("--json", texts.json);
  request.csv = output("--csv", texts.csv);
  request.page = output("--page", texts.page);
  if (texts.report) {
    if (*texts.report != "engineer" && *texts.report != "customer")
      refuse("--report", *texts.report, "engineer or customer");
    if (!texts.page) throw UsageError("--report says who reads the page: name it with --page FILE");
    if (*texts.report == "customer") request.audience = reports::Audience::customer;
  }
  request.columns = texts.columns;
  request.groups = texts.groups;
  request.gauges = texts.gauges;
  request.unit = texts.unit;
  request.bias = texts.bias;
  request.repeatability = texts.repeatability;
  request.resolution = texts.resolution;
  request.sorted = texts.sorted;
  if (texts.draws) request.draws = read_count("--draws", *texts.draws, 0, 100000);
  request.times = !texts.no_times;
  if (texts.fresh && texts.no_store)
    throw UsageError("--fresh keeps the result in the store, --no-store does not: choose one");
  request.storing = texts.no_store ? Storing::off : texts.fresh ? Storing::refresh : Storing::use;
  request.quiet = texts.quiet;
  return request;
}

}  // namespace

Request read_command_line(const std::vector<std::string>& arguments) {
  if (arguments.empty()) throw UsageError(std::string("no command\n\n") + overview_help);
  Request request;
  if (arguments.front() == "--help" || arguments.front() == "-h" || arguments.front() == "help") {
    request.help = overview_help;
    return request;
  }
  if (arguments.front() == "--version") {
    request.command = Command::version;
    return request;
  }
  const CommandWords& words = find_command(arguments.front());
  try {
    Texts texts;
    CLI::App app;
    app.set_help_flag();
    app.add_flag("-h,--help", texts.help);
    app.allow_extras();
    words.take(app, texts);
    std::vector<std::string> rest(arguments.begin() + 1, arguments.end());
    std::reverse(rest.begin(), rest.end());  // CLI11 takes them from the back
    try {
      app.parse(rest);
    } catch (const CLI::ArgumentMismatch& error) {
      throw UsageError(mismatch(error.what()));
    } catch (const CLI::ParseError& error) {
      throw UsageError(error.what());
    }
    if (texts.help) {
      request.help = words.help;
      return request;
    }
    for (const std::string& argument : app.remaining())
      if (argument != "--") refuse_option(argument, app);
    return understand(texts, words);
  } catch (const UsageError& error) {
    throw UsageError(words.name + ": " + error.what() + " (mintspread " + words.name + " --help)");
  }
}

}  // namespace mintspread::program
