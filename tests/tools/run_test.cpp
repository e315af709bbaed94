#include <fcntl.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <csignal>
#include <filesystem>
#include <nlohmann/json.hpp>
#include <sstream>
#include <string>
#include <vector>

#include "tests/support/temporary_folder.hpp"
#include "tests/tools/run_program.hpp"

using Catch::Contains;
using mintspread::test::contents;
using mintspread::test::Ended;
using mintspread::test::entries;
using mintspread::test::interrupt_program;
using mintspread::test::put;
using mintspread::test::run_on_terminal;
using mintspread::test::run_program;
using mintspread::test::TemporaryFolder;
using nlohmann::json;

namespace fs = std::filesystem;

namespace {

const std::string specs = MINTSPREAD_SPECS;

/// The example coins, in the order of their names.
std::vector<std::string> examples() {
  std::vector<std::string> paths;
  for (const auto& entry : fs::directory_iterator(specs))
    if (entry.path().extension() == ".yaml") paths.push_back(entry.path());
  std::sort(paths.begin(), paths.end());
  REQUIRE_FALSE(paths.empty());
  return paths;
}

/// One that is made by a route.
std::string example() {
  for (const std::string& path : examples())
    if (contents(path).find("strike:") != std::string::npos) return path;
  FAIL("no example has a route");
  return "";
}

/// `command`, a specification, and options that make a run short.
std::vector<std::string> short_run(const std::string& specification, std::vector<std::string> more = {}) {
  std::vector<std::string> arguments = {"run", specification, "--planar", "--coins", "20000", "--outer", "2"};
  arguments.insert(arguments.end(), more.begin(), more.end());
  return arguments;
}

}  // namespace

TEST_CASE("every example is checked, read and run") {
  for (const std::string& example : examples()) {
    CAPTURE(example);
    const Ended check = run_program({"check", example});
    CHECK(check.status == 0);
    CHECK_THAT(check.out, Contains("thickness"));
    const Ended reading = run_program({"reading", example});
    CHECK(reading.status == 0);
    CHECK_THAT(reading.out, Contains("kHz"));
    const Ended run = run_program(short_run(example));
    CHECK(run.status <= 1);
    CHECK_THAT(run.out, Contains("accepted"));
    CHECK(run.err == "");
  }
}

TEST_CASE("the same specification and seed give the same bytes on 1, 2 and 7 threads, another seed gives others") {
  TemporaryFolder folder;
  // Several chunks, the last one not full.
  const auto run = [&](const std::string& threads, const std::string& seed) {
    fs::create_directory(folder / threads);
    const std::string place = (folder / threads / "").string();
    const Ended ended =
        run_program({"run", example(), "--planar", "--coins", "140001", "--outer", "3", "--seed", seed, "--threads",
                     threads, "--no-times", "--json", place, "--csv", place, "--page", place, "--quiet"});
    CHECK(ended.status <= 1);
    CHECK(ended.err == "");
    const std::string name = fs::path(example()).stem();
    CHECK(entries(folder / threads) == 3);
    return std::vector<std::string>{contents(place + name + ".json"), contents(place + name + ".csv"),
                                    contents(place + name + ".html")};
  };
  const auto one = run("1", "5");
  CHECK((run("2", "5") == one));
  CHECK((run("7", "5") == one));
  CHECK((run("3", "6") != one));
}

TEST_CASE("JSON on standard output is the JSON of the file, and takes the place of the table") {
  TemporaryFolder folder;
  const Ended out = run_program(short_run(example(), {"--no-times", "--json", "-"}));
  const Ended file = run_program(short_run(example(), {"--no-times", "--json", folder / "r.json"}));
  CHECK(out.out == contents(folder / "r.json"));
  CHECK_THAT(file.out, Contains("accepted"));
  CHECK_THAT(file.err, Contains("written: "));
  const json result = json::parse(out.out);
  CHECK(result.at("provenance").at("pieces") == 20480);  // 40 nets of 512 points hold the 20 000 that were asked for
  CHECK(result.at("provenance").at("specification_file") == example());
}

TEST_CASE("a second run is answered from the store, with the same files") {
  TemporaryFolder folder;
  const auto cached = [&](std::vector<std::string> more) {
    return run_program(short_run(example(), std::move(more)),
                       [&] { ::setenv("MINTSPREAD_CACHE", (folder / "store").c_str(), 1); });
  };
  const Ended first = cached({"--json", folder / "1"});
  CHECK(entries(folder / "store/result") == 1);
  const Ended second = cached({"--json", folder / "2"});
  CHECK_THAT(second.err, Contains("earlier run"));
  CHECK(second.out == first.out);
  CHECK(second.status == first.status);
  CHECK(contents(folder / "2") == contents(folder / "1"));  // times and all: it is the same run
  CHECK_THAT(cached({"--fresh"}).err, !Contains("earlier run"));
  CHECK_THAT(cached({"--no-store"}).err, !Contains("earlier run"));
  CHECK_THAT(cached({"--seed", "2"}).err, !Contains("earlier run"));
  CHECK_THAT(cached({"--set", "strike.rim width=0.91 mm"}).err, !Contains("earlier run"));
  CHECK(entries(folder / "store/result") == 3);
  // A damaged blob is computed anew.
  for (const auto& entry : fs::directory_iterator(folder / "store/result")) put(entry.path(), "nonsense");
  const Ended third = cached({"--no-times", "--json", folder / "3"});
  CHECK_THAT(third.err, !Contains("earlier run"));
  CHECK(third.status == first.status);
}

TEST_CASE("a store that cannot be used does not stop a run") {
  const Ended ended = run_program(short_run(example()), [] { ::setenv("MINTSPREAD_CACHE", "/dev/null/store", 1); });
  CHECK(ended.status <= 1);
  CHECK_THAT(ended.err, Contains("not kept for later runs"));
}

TEST_CASE("an override changes the result as the file would, and a wrong one is told at its place") {
  const auto nominal = [&](std::vector<std::string> more) {
    std::vector<std::string> arguments = {"reading", example(), "--no-times", "--json", "-"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Ended ended = run_program(arguments);
    REQUIRE(ended.status == 0);
    return json::parse(ended.out);
  };
  const double before = nominal({})["nominal"]["diameter"];
  CHECK(before > 0.0);
  CHECK(nominal({"--set", "strike.collar=25 mm"})["nominal"]["diameter"] == Approx(0.025).epsilon(1e-9));
  const Ended unknown = run_program({"check", example(), "--set", "strike.colar=25 mm"});
  CHECK(unknown.status == 2);
  CHECK_THAT(unknown.err, Contains("colar") && Contains("collar"));
  const Ended unit = run_program({"check", example(), "--set", "strike.collar=25 um/s"});
  CHECK(unit.status == 2);
  CHECK_THAT(unit.err, Contains("--set strike.collar"));
}

TEST_CASE(
    "a specification with mistakes ends with 2: nothing runs and nothing is written, not even for the sound ones") {
  TemporaryFolder folder;
  put(folder / "wrong.yaml", "format: mintspread coin 1\ncoin: {nam: x}\n");
  put(folder / "old.json", "old");
  for (const std::string file : {folder / "wrong.yaml", folder / "missing.yaml", folder.path()}) {
    fs::create_directories(folder / "out");
    const Ended ended = run_program(
        {"run", example(), "--planar", file, "--coins", "1000", "--json", folder / "out", "--page", folder / "out"});
    CAPTURE(file, ended.err);
    CHECK(ended.status == 2);
    CHECK(ended.out == "");
    CHECK_THAT(ended.err, Contains("error: ") && Contains("nothing was run"));
    CHECK(entries(folder / "out") == 0);
  }
  CHECK(run_program({"run", folder / "wrong.yaml", "--planar", "--json", folder / "old.json"}).status == 2);
  CHECK(contents(folder / "old.json") == "old");
  CHECK(run_program({"check", example(), folder / "wrong.yaml"}).status == 2);
}

TEST_CASE("the chance that a lot exceeds a stated rate is told in text, page, CSV and JSON, and asked for anew") {
  TemporaryFolder folder;
  const auto lots = [&](std::vector<std::string> more) {
    std::vector<std::string> arguments{
        "run",    specs + "/nickel-on-copper.yaml", "--planar", "--coins", "2000", "--outer", "0", "--lots", "4",
        "--quiet"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Ended ended = run_program(arguments);
    INFO(ended.err);
    REQUIRE(ended.status < 2);
    return ended.out;
  };
  CHECK_THAT(lots({}), !Contains("chance of more than 0.03 %"));
  const std::string text = lots({"--lot-rate", "0.03 %", "--page", folder / "p.html", "--csv", folder / "c.csv"});
  CHECK_THAT(text, Contains("chance of more than 0.03 %"));
  CHECK_THAT(contents(folder / "p.html"), Contains("chance of more than 0.03"));
  CHECK_THAT(contents(folder / "c.csv"), Contains("0.03 %"));
  const auto result = json::parse(lots({"--lot-rate", "0.03%", "--json", "-"}));
  const auto& chances = result["lots"]["windows"][0]["chances"];
  REQUIRE(chances.size() == 6);
  CHECK(chances[0]["rate"].get<double>() == Approx(0.0003));

  CHECK(chances[0]["chance"]["interval"]["upper"].get<double>() > 0.0);
}

TEST_CASE("a sort that keeps nothing ends with 2 and says what its pieces read; nothing is written") {
  TemporaryFolder folder;
  const std::string spec = specs + "/nickel-copper-nickel.yaml";
  fs::create_directories(folder / "out");
  for (const std::string limits : {"sort.blanks.limits=1.9 mm .. 2 mm", "sort.copper.limits=30 um .. 40 um"}) {
    const Ended ended = run_program(short_run(
        spec, {"--set", limits, "--json", folder / "out", "--page", folder / "out", "--samples", folder / "out"}));
    CAPTURE(limits, ended.err);
    CHECK(ended.status == 2);
    CHECK(ended.out == "");
    CHECK_THAT(ended.err, Contains("nickel-copper-nickel.yaml:") && Contains("error: sort.") &&
                              Contains("this sort keeps none of 40") && Contains("they read 1") &&
                              Contains("State limits that some of them meet") && Contains("nothing was run"));
    CHECK(entries(folder / "out") == 0);
    CHECK(run_program({"check", spec, "--set", limits}).status == 2);
  }
}

TEST_CASE("a stated pair of metals, all of it invented, is read, told, and run, and its numbers count") {
  TemporaryFolder folder;
  put(folder / "pair.yaml",
      "format: mintspread materials 1\nmaterials:\n"
      "  palladium: {conductivity: 13 MS/m, temperature coefficient: 3.8e-3 1/K, density: 12 g/cm3, permeability: 20,"
      " composition: {Pd: {part: 100 %}}}\n"
      "  silver: {conductivity: 58 MS/m, temperature coefficient: 3.8e-3 1/K, density: 10.5 g/cm3, permeability: 1,"
      " composition: {Ag: {part: 100 %}}}\n"
      "diffusion:\n  - between: [Ag, Pd]\n"
      "    first in second: {factor: 0.3 cm2/s, activation energy: 240 kJ/mol}\n"
      "    second in first: {factor: 0.5 cm2/s, activation energy: 230 kJ/mol}\n"
      "    second magnetic up to: 20 %\n"
      "    resistivity: [{part: 0 %, resistivity: 1.65 uohm cm}, {part: 20 %, resistivity: 20 uohm cm},"
      " {part: 50 %, resistivity: 34 uohm cm}, {part: 80 %, resistivity: 25 uohm cm},"
      " {part: 100 %, resistivity: 7 uohm cm}]\n");
  put(folder / "coin.yaml",
      "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: [" + specs +
          "/materials/handbook.yaml, pair.yaml]\nsensor: " + specs +
          "/sensors/bench-slot.yaml\nroute:\n"
          "  - blank: {material: low-carbon steel, thickness: 1.47 mm, rimmed diameter: 21.7 mm}\n"
          "  - bath: {name: silver, material: silver, thickness: 18 um +/- 2 um}\n"
          "  - bath: {name: palladium, material: palladium, thickness: 6 um}\n"
          "  - anneal: {temperature: 750 degC +/- 10 degC, time: 15 min, sealed under: [silver]}\n"
          "  - strike: {collar: 22 mm, rim thickness: 1.75 mm, rim width: 0.9 mm, rim height: {up: 0.15 mm, down: 0.15 "
          "mm}}\n");
  const Ended checked = run_program({"check", folder / "coin.yaml"});
  CAPTURE(checked.err);
  CHECK(checked.status == 0);
  CHECK_THAT(run_program({"reading", folder / "coin.yaml", "--planar"}).out, Contains("Ag-Pd"));
  const auto run = [&](std::vector<std::string> more) {
    more.insert(more.end(), {"--no-store", "--json", "-"});
    const Ended ended = run_program(short_run(folder / "coin.yaml", more));
    CAPTURE(ended.err);
    REQUIRE(ended.status == 0);
    return json::parse(ended.out);
  };
  const auto mean = [](const json& result) { return result["channels"][0]["coin"]["mean"]["value"].get<double>(); };
  const auto usual = run({});
  const auto slower = run({"--set", "materials.diffusion.1.second in first.factor=0.4 cm2/s"});
  CHECK(usual["provenance"]["specification_hash"] != slower["provenance"]["specification_hash"]);
  CHECK(mean(usual) != mean(slower));
  const auto others = run({"--set", "materials.diffusion.1.resistivity.3.resistivity=40 uohm cm"});
  CHECK(mean(usual) != mean(others));
}

TEST_CASE("a sort that keeps nothing is told at its place in the file, in finite size and without, whatever it reads") {
  TemporaryFolder folder;
  put(folder / "sensor.yaml",
      "format: mintspread sensor 1\nsensor: {name: one coil}\nslot: {width: 3.2 mm}\ncoils:\n"
      "  face: {side: above, inner radius: 2 mm, outer radius: 5 mm, length: 2 mm, turns: 200, recess: 0.3 mm}\n"
      "channels:\n  core: {value: resistance, drive: face, frequency: 16 kHz}\n");
  const std::string spec = folder / "invented.yaml";
  struct Row {
    std::string channel, behind, place;
  };
  // Behind a channel that keeps all, what else reads is known in finite size only.
  for (const Row& row :
       {Row{"1 ohm .. 2 ohm", "'>= 1 g'", ":7:5: error: sort.coil: this sort keeps none of 4096 pieces: they read 0.5"},
        Row{"'>= 0.1 ohm'", "'>= 1 kg'",
            ":8:5: error: sort.behind: this sort keeps none of 4096 pieces: they read 4."}}) {
    put(spec, "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: " + specs +
                  "/materials/handbook.yaml\nsensor: sensor.yaml\nroute:\n"
                  "  - blank: {material: brass 80/20, thickness: 1.5 mm +/- 20 um, rimmed diameter: 21 mm}\n"
                  "  - sort: {name: coil, channel: core, limits: " +
                  row.channel + "}\n  - sort: {name: behind, gauge: mass, limits: " + row.behind + "}\n");
    CAPTURE(row.place);
    CHECK(run_program({"check", spec}).status == 0);
    for (const bool planar : {false, true}) {
      std::vector<std::string> arguments = {"run", spec, "--no-store", "--json", folder / "out.json"};
      if (planar) arguments.push_back("--planar");
      const Ended ended = run_program(arguments);
      CAPTURE(planar, ended.err);
      CHECK(ended.status == 2);
      CHECK(ended.out == "");
      CHECK_THAT(ended.err, Contains("invented.yaml" + row.place) && Contains("\n      |     ^") &&
                                Contains(planar ? "1 mistake; nothing was run" : "1 mistake; nothing of this coin"));
      CHECK_FALSE(fs::exists(folder / "out.json"));
    }
  }
}

TEST_CASE("lots that cannot be are refused before the run, or at the groups that make them too large") {
  TemporaryFolder folder;
  const std::string grouped = specs + "/nickel-copper-nickel.yaml", plain = folder / "plain.yaml";
  const auto run = [&](const std::string& spec, const std::string& lots) {
    return run_program(short_run(spec, {"--lots", lots, "--json", folder / "out.json"}));
  };
  const Ended unknown = run(grouped, "20 nonsense");
  CHECK(unknown.status == 2);
  CHECK_THAT(unknown.err,
             Contains("--lots: ") && Contains("there is no group 'nonsense' to take as a lot; take one of: "
                                              "strip lot, "));
  const Ended large =
      run_program(short_run(grouped, {"--lots", "100000", "--set", "groups.strip lot.pieces=100000000000"}));
  CHECK(large.status == 2);
  CHECK_THAT(large.err, Contains("nickel-copper-nickel.yaml:") && Contains("error: groups: the groups are so large"));
  put(plain, "format: mintspread coin 1\ncoin: {name: invented}\nmaterials: " + specs +
                 "/materials/handbook.yaml\nsensor: " + specs +
                 "/sensors/bench-slot.yaml\nroute:\n"
                 "  - blank: {material: brass 80/20, thickness: 1.5 mm +/- 20 um, rimmed diameter: 21 mm}\n");
  const Ended none = run(plain, "20");
  CHECK(none.status == 2);
  CHECK_THAT(none.err, Contains("plain.yaml: the specification states no groups"));
  CHECK_FALSE(fs::exists(folder / "out.json"));
}

TEST_CASE("outputs that would take each other's place are refused before anything runs") {
  TemporaryFolder folder;
  const std::string spec = example();
  fs::copy_file(spec, folder / "copy.yaml");
  const std::string before = contents(folder / "copy.yaml");
  const std::vector<std::vector<std::string>> rows = {
      {"run", spec, "--planar", "--json", folder / "a", "--csv", folder / "a"},
      {"run", spec, "--planar", "--json", folder / "a", "--csv", (folder.path() / "." / "a").string()},
      {"run", spec, "--planar", "--json", "-", "--csv", "-"},
      {"run", spec, "--planar", folder / "other.yaml", "--json", folder / "a"},
      {"run", spec, "--planar", folder / "other.yaml", "--json", "-"},
      {"run", spec, "--planar", spec, "--json", folder.path()},
      {"run", folder / "copy.yaml", "--planar", "--json", folder / "copy.yaml"},
  };
  for (const auto& row : rows) {
    const Ended ended = run_program(row);
    CAPTURE(row, ended.err);
    CHECK(ended.status == 2);
    CHECK_THAT(ended.err, Contains("give each its own file"));
  }
  CHECK(contents(folder / "copy.yaml") == before);
  CHECK(entries(folder.path()) == 1);
}

TEST_CASE("what cannot be written ends with 3 and leaves old files as they were") {
  TemporaryFolder folder;
  const std::string spec = example();
  put(folder / "old.json", "old");
  const auto outputs = [&](const std::string& page) {
    return short_run(spec, {"--json", folder / "old.json", "--page", page});
  };
  CHECK(run_program(outputs(folder / "missing/page.html")).status == 3);
  CHECK(run_program(outputs("/proc/page.html")).status == 3);
  CHECK(run_program(short_run(spec, {"--json", "/dev/full"})).status == 3);
  const Ended limited = run_program(outputs(folder / "page.html"), [] {
    const rlimit limit{1000, 1000};
    ::setrlimit(RLIMIT_FSIZE, &limit);
  });
  CHECK(limited.status == 3);
  CHECK(contents(folder / "old.json") == "old");
  CHECK(entries(folder.path()) == 1);
  const Ended table = run_program(short_run(spec), [] {
    ::close(1);
    ::open("/dev/full", O_WRONLY);
  });
  CHECK(table.status == 3);
  CHECK_THAT(table.err, Contains("standard output") && Contains("No space left"));
}

TEST_CASE("new results can be read by their owner only") {
  TemporaryFolder folder;
  run_program(short_run(example(), {"--json", folder / "r.json", "--page", folder / "r.html"}));
  for (const char* name : {"r.json", "r.html"}) {
    struct stat status {};
    REQUIRE(::stat((folder / name).c_str(), &status) == 0);
    CHECK((status.st_mode & 07777) == 0600);
  }
}

TEST_CASE("a target that is missed ends with 1, one that is met with 0") {
  const std::string spec = example();
  CHECK(run_program(short_run(spec, {"--set", "targets.accepted=>= 1 %"})).status == 0);
  CHECK(run_program(short_run(spec, {"--set", "targets.accepted=>= 99.9999 %"})).status == 1);
}

TEST_CASE(
    "a precision that is not reached ends with 1 and says so, one that is reached with 0; one of nothing with 2") {
  const auto run = [&](const std::string& until, const std::string& most) {
    return run_program(short_run(example(), {"--no-store", "--until", until, "--at-most", most}));
  };
  const Ended reached = run("mean of diameter +/- 0.001 mm", "1e6");
  CHECK(reached.status == 0);
  CHECK_THAT(reached.out, Contains("mean of diameter: the 95 % interval is"));
  const Ended missed = run("mean of diameter +/- 1e-9 mm", "30000");
  CHECK(missed.status == 1);
  CHECK_THAT(missed.out, Contains("but these are the most pieces allowed"));
  const Ended nothing = run("mean of diametre +/- 1 mm", "30000");
  CHECK(nothing.status == 2);
  CHECK_THAT(nothing.err, Contains("there is no channel 'diametre'; did you mean 'diameter'?"));
}

TEST_CASE("samples hold every coin of the run: their means are those of the result, with either kind of points") {
  TemporaryFolder folder;
  for (const char* points : {"plain", "sobol"}) {
    const Ended ended = run_program(short_run(
        example(), {"--no-store", "--points", points, "--samples", folder / "s.csv", "--json", folder / "r.json"}));
    INFO(ended.err);
    REQUIRE(ended.status <= 1);
    const json result = json::parse(contents(folder / "r.json"));
    std::istringstream lines(contents(folder / "s.csv"));
    std::string line, field;
    std::getline(lines, line);
    line.pop_back();  // a carriage return
    std::vector<std::string> names;
    std::istringstream header(line);
    while (std::getline(header, field, ',')) names.push_back(field);
    std::vector<double> sums(names.size());
    const auto sorted = std::find(names.begin(), names.end(), "scrapped by sort");
    REQUIRE(sorted != names.end());
    // Coins that a sort took out have no readings, and nobody accepts them.
    std::size_t rows = 0, scrapped = 0;
    for (; std::getline(lines, line); ++rows) {
      std::istringstream values(line);
      for (std::size_t column = 0; column < sums.size(); ++column) {
        std::getline(values, field, ',');
        if (!field.empty()) sums[column] += std::stod(field);
        if (names[column] == *sorted && field != "0") ++scrapped;
      }
    }
    CHECK(rows == result.at("provenance").at("pieces"));
    CHECK(scrapped > 0);
    CHECK(rows - scrapped == result.at("yield").at("finished_pieces"));
    const auto mean_of = [&](const std::string& name) {
      const auto found = std::find_if(names.begin(), names.end(),
                                      [&](const std::string& n) { return n == name || n.starts_with(name + " ["); });
      REQUIRE(found != names.end());
      return sums[static_cast<std::size_t>(found - names.begin())] / static_cast<double>(rows - scrapped);
    };
    for (const auto& channel : result.at("channels")) {
      CHECK(mean_of(channel.at("name")) == Approx(channel.at("reading").at("mean").at("value").get<double>()));
    }
    for (const auto& set : result.at("windows")) {
      CHECK(mean_of("accepted by " + set.at("machine_class").get<std::string>()) ==
            Approx(set.at("accepted").at("value").get<double>()));
    }
  }
}

TEST_CASE("samples of a result from the store are those of the run; an unknown ending is refused") {
  TemporaryFolder folder;
  const auto samples = [&](const std::string& file, std::vector<std::string> more = {}) {
    more.insert(more.end(), {"--samples", folder / file});
    return run_program(short_run(example(), more),
                       [&] { ::setenv("MINTSPREAD_CACHE", (folder / "store").c_str(), 1); });
  };
  CHECK(samples("first.npy", {"--fresh"}).status <= 1);
  const Ended kept = samples("second.npy", {"--threads", "1"});
  CHECK_THAT(kept.err, Contains("earlier run"));
  CHECK(contents(folder / "first.npy").size() > 20480 * 8 * 20);
  CHECK((contents(folder / "first.npy") == contents(folder / "second.npy")));
  const Ended wrong = samples("samples.txt");
  CHECK(wrong.status == 2);
  CHECK_THAT(wrong.err, Contains("ends in .npy or .csv"));
}

TEST_CASE("coins have their finite size unless told otherwise; solutions are kept and change nothing") {
  TemporaryFolder folder;
  const std::string spec = specs + "/solid-white.yaml";
  const auto keep = [&] { ::setenv("MINTSPREAD_CACHE", (folder / "store").c_str(), 1); };
  const auto run = [&](const std::string& name, std::vector<std::string> more, auto prepare) {
    std::vector<std::string> arguments = {"run", spec,     "--coins",     "20000",      "--outer",
                                          "0",   "--json", folder / name, "--no-times", "--quiet"};
    arguments.insert(arguments.end(), more.begin(), more.end());
    const Ended ended = run_program(arguments, prepare);
    CHECK(ended.status <= 1);
    CHECK(ended.err == "");
    return contents(folder / name);
  };
  const auto first = run("first.json", {}, keep);
  CHECK(entries(folder / "store" / "finite-coin") == 1);
  const auto found = json::parse(first);
  CHECK(found["channels"][0]["model"] == "finite coin");
  CHECK(found["channels"][0]["model_error"] > 0.0);
  CHECK(found["provenance"]["disc_solutions"] == 64);
  CHECK(run("again.json", {"--fresh"}, keep) == first);
  CHECK(run("without.json", {"--no-store"}, keep) == first);
  const auto planar = json::parse(run("planar.json", {"--planar"}, keep));
  CHECK(planar["channels"][0]["model"] == "planar");
  CHECK(planar["channels"][0]["nominal"] != found["channels"][0]["nominal"]);
}

TEST_CASE("an interrupted run ends with 130 or 143 and leaves no file") {
  TemporaryFolder folder;
  const std::vector<std::string> endless = {"run",     example(), "--planar", "--coins",        "1e11",
                                            "--outer", "0",       "--json",   folder / "r.json"};
  const Ended interrupted = interrupt_program(endless, SIGINT, 2.0);
  CHECK(interrupted.status == 130);
  CHECK_THAT(interrupted.err, Contains("interrupted"));
  CHECK(interrupt_program(endless, SIGTERM, 2.0).status == 143);
  // While coins are solved in their finite size, too.
  const std::vector<std::string> solving = {"run", example(), "--no-store", "--json", folder / "r.json"};
  CHECK(interrupt_program(solving, SIGINT, 1.0).status == 130);
  CHECK(entries(folder.path()) == 0);
}

TEST_CASE("a line is written over and colours are used on a terminal that can, and nowhere else") {
  const std::vector<std::string> run = {"run", example(), "--planar", "--no-store", "--outer", "0", "--coins", "20000"};
  const Ended able = run_on_terminal(run);
  CHECK(able.status <= 1);
  CHECK_THAT(able.out, Contains("\rinvented") && Contains(" %") && Contains("\033["));
  const Ended plain = run_on_terminal(run, [] { ::setenv("NO_COLOR", "1", 1); });
  CHECK_THAT(plain.out, Contains(" %") && Contains("\033[K") && !Contains("m\033") && !Contains("\033[1m") &&
                            !Contains("\033[0m"));
  const Ended dumb = run_on_terminal(run, [] { ::setenv("TERM", "dumb", 1); });
  CHECK(dumb.out.find('\033') == std::string::npos);
  const Ended file = run_program(run);
  CHECK(file.out.find('\033') == std::string::npos);
  CHECK(file.out.find('\r') == std::string::npos);
  CHECK(file.err == "");
}
