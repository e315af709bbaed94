// Feeds the specification reader with mutated files. Input number n depends on the seed, n and the corpus only, so that
// every failure can be repeated alone:  reader_fuzz --only N
//
// What must hold of every input: the reading ends within the time allowed, with a specification whose parts fit
// together or with at least one error that has a place; nothing else is thrown. Memory errors are the sanitizers' to
// find
// (-DMINTSPREAD_SANITIZE=address,undefined).

#include <fmt/format.h>
#include <sys/time.h>
#include <unistd.h>

#ifdef __SANITIZE_ADDRESS__
#include <sanitizer/common_interface_defs.h>
#endif

#include <algorithm>
#include <charconv>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <filesystem>
#include <fstream>
#include <map>
#include <random>
#include <sstream>
#include <string>
#include <vector>

#include "engine/sampling/distribution.hpp"
#include "specs/reader.hpp"

namespace {

using namespace mintspread;
namespace fs = std::filesystem;

struct Options {
  std::uint64_t inputs = 10000, first = 0, seed = 1;
  double seconds_each = 2;
  std::string keep;
};

/// A file of the corpus and the role it can play beside the unchanged others.
struct Seed {
  std::string role;  ///< name of the file it replaces
  std::string text;
};

std::string whole(const fs::path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

std::string role_of(const fs::path& file, const std::string& text) {
  if (file.extension() == ".csv") return "gauge.csv";
  for (const char* kind : {"sensor", "windows", "materials", "gauge"})
    if (text.starts_with(fmt::format("format: mintspread {} ", kind))) return fmt::format("{}.yaml", kind);
  return "coin.yaml";
}

std::vector<Seed> corpus() {
  std::vector<fs::path> files;
  for (const char* folder : {MINTSPREAD_TESTS "/fuzz/corpus", MINTSPREAD_TESTS "/rejected",
                             MINTSPREAD_TESTS "/specs/data", MINTSPREAD_SPECS})
    for (const auto& entry : fs::recursive_directory_iterator(folder))
      if (entry.path().extension() == ".yaml" || entry.path().extension() == ".csv") files.push_back(entry.path());
  std::sort(files.begin(), files.end());
  std::vector<Seed> seeds;
  for (const fs::path& file : files) {
    const std::string text = whole(file);
    seeds.push_back({role_of(file, text), text});
  }
  return seeds;
}

const std::vector<std::string> words = {"{",
                                        "}",
                                        "[",
                                        "]",
                                        ": ",
                                        ":",
                                        ", ",
                                        ",",
                                        "- ",
                                        "\n",
                                        "\n  ",
                                        "\n    ",
                                        "#",
                                        "&a ",
                                        "*a",
                                        "!!str ",
                                        "<<: ",
                                        "? ",
                                        "| ",
                                        "> ",
                                        "\"",
                                        "'",
                                        "---\n",
                                        "...\n",
                                        "%YAML 1.2\n",
                                        "\t",
                                        "\r",
                                        "\xEF\xBB\xBF",
                                        "\xFF",
                                        "\xC2\xA0",
                                        "\xE2\x88\x92",
                                        "\xC2\xB1",
                                        "\\",
                                        "\\x00",
                                        "~",
                                        "null",
                                        "true",
                                        "false",
                                        ".inf",
                                        ".nan",
                                        "-.inf",
                                        "0x10",
                                        "010",
                                        "1e999",
                                        "1e-999",
                                        "1e308",
                                        "-1",
                                        "0",
                                        "1",
                                        "1,5",
                                        "1_000",
                                        "99999999999999999999",
                                        " um",
                                        " mm",
                                        " %",
                                        " % IACS",
                                        " % of mass",
                                        " degC",
                                        " 1/K",
                                        " counts",
                                        " MS/m",
                                        " g/cm3",
                                        " A min/dm2",
                                        " um since 2000",
                                        "+/- ",
                                        "+3/-1",
                                        " .. ",
                                        " per ",
                                        " per piece",
                                        " per barrel",
                                        "known to: ",
                                        "varies: ",
                                        "shape: ",
                                        "sd: ",
                                        "coverage: ",
                                        "capability: ",
                                        "sorted: true",
                                        "basis: guess",
                                        "data: {file: gauge.csv, column: t, unit: um}",
                                        "parts: ",
                                        "weight: 50 %",
                                        "value: ",
                                        "lognormal",
                                        "student t",
                                        "degrees of freedom: ",
                                        "curvilinear trapezoid",
                                        "edge: ",
                                        "mixture",
                                        "measured",
                                        "two-piece normal",
                                        "uniform",
                                        "arcsine",
                                        "triangular",
                                        "truncated normal",
                                        "smooth: true",
                                        "at: rim",
                                        "stage: struck",
                                        "statistic: local minimum",
                                        "route:\n",
                                        "section:\n",
                                        "groups: ",
                                        "correlations:\n",
                                        "targets: ",
                                        "from: ",
                                        "mixes: ",
                                        "3 barrel",
                                        "materials: ",
                                        "sensor: ",
                                        "windows: ",
                                        "coin.yaml",
                                        "gauge.csv",
                                        "gauge.yaml",
                                        "expression: ",
                                        "skin",
                                        "((((",
                                        "skin = 5",
                                        "scale: ",
                                        "noise: ",
                                        "resolution: ",
                                        "unit: ",
                                        "drive: ",
                                        "receive: "};

const std::vector<std::string> paths = {"bath.copper.thickness",
                                        "bath.copper.thickness.sd",
                                        "blank.permeability",
                                        "sensor.slot.play",
                                        "sensor.channels.skin",
                                        "sensor.channels.skin.scale",
                                        "windows.vending.windows.skin",
                                        "materials.copper.conductivity",
                                        "materials",
                                        "sensor",
                                        "windows",
                                        "groups",
                                        "groups.barrel.from",
                                        "correlations.1.rank",
                                        "targets.accepted",
                                        "section",
                                        "anneal.changes",
                                        "strike.collar",
                                        "coin.name",
                                        "",
                                        ".",
                                        "route.1",
                                        "bath..thickness",
                                        "bath.copper.thickness.data.gauge.bias",
                                        "section.layers.upper.thickness"};

/// One input: files and overrides.
struct Input {
  std::map<std::string, std::string> files;
  std::vector<specs::Override> overrides;
};

class Maker {
 public:
  Maker(std::vector<Seed> seeds, bool (*accepts)(const Input&)) : seeds_(std::move(seeds)) {
    const std::string data = MINTSPREAD_TESTS "/specs/data/";
    base_ = {{"coin.yaml", whole(data + "coin.yaml")},
             {"sensor.yaml", whole(data + "bench.yaml")},
             {"windows.yaml", whole(data + "classes.yaml")},
             {"materials.yaml", whole(data + "handbook.yaml")},
             {"gauge.csv", "n,t\n1,17\n2,18\n3,19\n4,18.5\n5,17.5\n6,18.2\n7,17.8\n8,18.1\n9,17.9\n10,18\n11,18\n"},
             {"gauge.yaml",
              "format: mintspread gauge 1\ngauge: {name: g}\nreads: layer thickness\nlayer: copper\nrepeatability: 0.2 "
              "um\n"}};
    for (std::size_t i = 0; i < seeds_.size(); ++i) {
      all_.push_back(i);
      if (accepts(with(seeds_[i], seeds_[i].text))) accepted_.push_back(i);
    }
  }
  std::size_t seeds() const { return seeds_.size(); }
  std::size_t accepted() const { return accepted_.size(); }

  Input make(std::uint64_t seed, std::uint64_t number) {
    std::seed_seq sequence{static_cast<std::uint32_t>(seed), static_cast<std::uint32_t>(seed >> 32),
                           static_cast<std::uint32_t>(number), static_cast<std::uint32_t>(number >> 32)};
    random_.seed(sequence);
    // Files that are accepted as they stand lead deepest into the reader: half of the inputs begin with one.
    const std::vector<std::size_t>& from = below(2) == 0 ? accepted_ : all_;
    const Seed& chosen = seeds_[from[below(from.size())]];
    std::string text = chosen.text;
    const std::size_t changes = below(8);
    for (std::size_t i = 0; i < changes; ++i) mutate(text);
    Input out = with(chosen, text);
    if (below(4) == 0) {
      std::string value = words[below(words.size())];
      for (std::size_t i = below(6); i > 0; --i) value += words[below(words.size())];
      out.overrides.push_back({paths[below(paths.size())], value});
    }
    return out;
  }

  /// Files are found under their role, whatever the texts call them.
  static specs::FileReader reader(const Input& input) {
    return [&input](const std::string& path) -> specs::FileText {
      for (const auto& [role, kind] : {std::pair{"coin.yaml", "coin"},
                                       {"sensor.yaml", "sensor"},
                                       {"sensor.yaml", "bench"},
                                       {"windows.yaml", "windows"},
                                       {"windows.yaml", "classes"},
                                       {"materials.yaml", "handbook"},
                                       {"materials.yaml", "more"},
                                       {"gauge.csv", "csv"},
                                       {"gauge.yaml", "gauge.yaml"},
                                       {"gauge.yaml", "cross"}})
        if (path.find(kind) != std::string::npos) return {input.files.at(role), ""};
      return {std::nullopt, "no such file"};
    };
  }

 private:
  Input with(const Seed& seed, const std::string& text) const {
    Input out{base_, {}};
    if (seed.role == "gauge.csv")
      out.overrides.push_back({"bath.copper.thickness", "{data: {file: gauge.csv, column: t, unit: um}}"});
    if (seed.role == "gauge.yaml")
      out.overrides.push_back(
          {"bath.copper.thickness", "{data: {file: gauge.csv, column: t, unit: um, gauge: gauge.yaml}}"});
    out.files[seed.role] = text;
    return out;
  }

  std::size_t below(std::size_t limit) { return limit == 0 ? 0 : static_cast<std::size_t>(random_() % limit); }

  void mutate(std::string& text) {
    const std::size_t at = below(text.size() + 1);
    const std::size_t length = std::min(below(20), text.size() - at);
    switch (below(10)) {
      case 0:
        if (at < text.size()) text[at] = static_cast<char>(text[at] ^ (1 << below(8)));
        return;
      case 1:
        if (at < text.size()) text[at] = static_cast<char>(below(256));
        return;
      case 2:
      case 3:
      case 4:
        text.insert(at, words[below(words.size())]);
        return;
      case 5:
        text.replace(at, length, words[below(words.size())]);
        return;
      case 6:
        text.erase(at, length);
        return;
      case 7:
        text.insert(below(text.size() + 1), text.substr(at, below(60)));
        return;
      case 8: {
        const std::string& other = seeds_[below(seeds_.size())].text;
        text.insert(at, other.substr(below(other.size() + 1), below(80)));
        return;
      }
      default:
        if (below(8) == 0)
          text.resize(at);
        else
          for (std::size_t i = 0; i < 1 + below(30); ++i) text.insert(at, words[below(20)]);
    }
  }

  std::vector<Seed> seeds_;
  std::vector<std::size_t> all_, accepted_;  ///< positions in seeds_
  std::map<std::string, std::string> base_;
  std::mt19937_64 random_;
};

/// What is wrong with an accepted specification; empty when it fits together.
std::string flaw(const specs::Specification& s) {
  const auto& model = s.model;
  if (s.hash.size() != 64) return "no hash";
  for (const study::Input& input : model.inputs) {
    if (!std::isfinite(input.nominal)) return input.path + ": nominal value";
    if (input.understood.empty()) return input.path + ": not echoed";
    if (!(input.nominal >= input.smallest && input.nominal <= input.largest)) return input.path + ": beyond its bounds";
    for (const study::Component& component : input.components) {
      if (component.level >= model.groups.size()) return input.path + ": level";
      if (const std::string bad = sampling::flaw_of(component.deviation); !bad.empty()) return input.path + ": " + bad;
    }
  }
  for (const study::RankCorrelation& c : model.correlations)
    if (index(c.first) >= model.inputs.size() || index(c.second) >= model.inputs.size()) return "correlation";
  for (const signature::Channel& channel : model.sensor.channels)
    if (channel.scale &&
        std::max(channel.scale->first_piece, channel.scale->second_piece) >= model.sensor.reference_pieces.size())
      return "scale";
  for (const study::WindowSet& set : model.windows)
    for (const study::Criterion& criterion : set.criteria)
      if (!(criterion.limits.lower <= criterion.limits.upper)) return criterion.path + ": limits";
  return {};
}

/// What went wrong; empty when nothing did.
std::string run(const Input& input, bool& accepted) {
  accepted = false;
  try {
    const auto specification = specs::read_specification("coin.yaml", input.overrides, Maker::reader(input));
    accepted = true;
    for (const auto& d : specification.warnings) render(d, specs::Colour::none);
    return flaw(specification);
  } catch (const specs::RejectedSpecification& rejected) {
    std::size_t errors = 0;
    for (const specs::Diagnostic& d : rejected.diagnostics) {
      errors += d.severity == specs::Severity::error ? 1 : 0;
      if (d.what.empty() || render(d, specs::Colour::ansi).empty()) return "an error without words";
      if (d.place.file.empty()) return "an error without a place: " + d.what;
    }
    return errors == 0 ? "rejected without an error" : "";
  } catch (const std::exception& other) {
    return fmt::format("thrown: {}", other.what());
  }
}

double processor_seconds() {
  timespec now{};
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
  return static_cast<double>(now.tv_sec) + 1e-9 * static_cast<double>(now.tv_nsec);
}

std::uint64_t running = 0;

/// An input that does not end, or ends the program, is named first.
void name_input() {
  char text[64] = "stopped at input ";
  constexpr std::size_t begin = 17;
  char* const end = std::to_chars(text + begin, text + sizeof text - 1, running).ptr;
  *end = '\n';
  if (::write(2, text, static_cast<std::size_t>(end - text) + 1) < 0) std::_Exit(3);
}
void on_signal(int number) {
  name_input();
  std::_Exit(128 + number);
}

void keep(const Options& options, std::uint64_t number, const Input& input) {
  if (options.keep.empty()) return;
  const fs::path folder = fs::path(options.keep) / std::to_string(number);
  fs::create_directories(folder);
  for (const auto& [name, text] : input.files) std::ofstream(folder / name, std::ios::binary) << text;
  std::ofstream overrides(folder / "overrides.txt", std::ios::binary);
  for (const specs::Override& o : input.overrides) overrides << o.path << '=' << o.text << '\n';
}

std::uint64_t number(const char* text) {
  std::uint64_t value = 0;
  const std::string_view all(text);
  if (std::from_chars(all.data(), all.data() + all.size(), value).ec != std::errc{}) {
    fmt::print(stderr, "not a number: {}\n", text);
    std::exit(2);
  }
  return value;
}

}  // namespace

int main(int count, char** arguments) {
  Options options;
  for (int i = 1; i + 1 < count; i += 2) {
    const std::string name = arguments[i];
    if (name == "--inputs")
      options.inputs = number(arguments[i + 1]);
    else if (name == "--first")
      options.first = number(arguments[i + 1]);
    else if (name == "--seed")
      options.seed = number(arguments[i + 1]);
    else if (name == "--only")
      options.first = number(arguments[i + 1]), options.inputs = 1;
    else if (name == "--seconds-each")
      options.seconds_each = static_cast<double>(number(arguments[i + 1]));
    else if (name == "--keep")
      options.keep = arguments[i + 1];
    else {
      fmt::print(stderr,
                 "reader_fuzz [--inputs N] [--first N] [--only N] [--seed N] [--seconds-each N] [--keep FOLDER]\n");
      return 2;
    }
  }
  Maker maker(corpus(), [](const Input& input) {
    bool accepted = false;
    return run(input, accepted).empty() && accepted;
  });
#ifdef __SANITIZE_ADDRESS__
  __sanitizer_set_death_callback(name_input);
  std::signal(SIGPROF, on_signal);
#else
  for (const int number : {SIGPROF, SIGSEGV, SIGBUS, SIGFPE, SIGABRT}) std::signal(number, on_signal);
#endif
  std::uint64_t accepted_inputs = 0, failures = 0;
  double slowest = 0;
  std::uint64_t slowest_input = options.first;
  const double begin = processor_seconds();
  for (std::uint64_t n = options.first; n < options.first + options.inputs; ++n) {
    const Input input = maker.make(options.seed, n);
    running = n;
    itimerval limit{};
    limit.it_value.tv_sec = static_cast<time_t>(options.seconds_each * 5);
    setitimer(ITIMER_PROF, &limit, nullptr);
    const double start = processor_seconds();
    bool accepted = false;
    std::string wrong = run(input, accepted);
    const double seconds = processor_seconds() - start;
    if (seconds > slowest) slowest = seconds, slowest_input = n;
    if (wrong.empty() && seconds > options.seconds_each) wrong = fmt::format("took {:.2f} s", seconds);
    accepted_inputs += accepted ? 1 : 0;
    if (options.inputs == 1) keep(options, n, input);
    if (!wrong.empty()) {
      ++failures;
      fmt::print("input {}: {}\n", n, wrong);
      keep(options, n, input);
      if (failures >= 20) break;
    }
    if (options.inputs >= 100000 && (n + 1 - options.first) % 100000 == 0) {
      fmt::print("{} inputs\n", n + 1 - options.first);
      std::fflush(stdout);
    }
  }
  fmt::print(
      "{} seeds ({} accepted as they are), {} inputs, {} accepted, {} failures, {:.0f} s of processor time, slowest "
      "input {} with {:.3f} s\n",
      maker.seeds(), maker.accepted(), options.inputs, accepted_inputs, failures, processor_seconds() - begin,
      slowest_input, slowest);
  return failures == 0 ? 0 : 1;
}
