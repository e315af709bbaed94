#include <catch2/catch.hpp>
#include <string>
#include <vector>

#include "tests/tools/run_program.hpp"

using Catch::Contains;
using mintspread::test::Ended;
using mintspread::test::run_program;

TEST_CASE("a mistake in the command line ends with 2 and says what would be accepted") {
  const struct {
    std::vector<std::string> arguments;
    const char* message;
  } rows[] = {
      {{}, "COMMAND"},
      {{"rnu", "coin.yaml"}, "there is no command 'rnu': did you mean run?"},
      {{"simulate"}, "there is no command 'simulate' (mintspread --help)"},
      {{"--seed", "1"}, "the command comes first"},
      {{"run"}, "run: which? Name a specification"},
      {{"run", "x", "--cions", "5"}, "there is no option --cions: did you mean --coins?"},
      {{"run", "x", "--Seed=5"}, "there is no option --Seed: did you mean --seed?"},
      {{"check", "x", "--coins", "5"}, "there is no option --coins"},
      {{"run", "x", "-z"}, "there is no option -z"},
      {{"run", "x", "--coins"}, "--coins needs a value"},
      {{"run", "x", "--coins", "0"}, "--coins takes a whole number from 1 to"},
      {{"run", "x", "--coins", "-5"}, "not '-5'"},
      {{"run", "x", "--coins", "1.5"}, "not '1.5'"},
      {{"run", "x", "--coins", "1e3x"}, "not '1e3x'"},
      {{"run", "x", "--coins", "1e99"}, "not '1e99'"},
      {{"run", "x", "--coins", "nan"}, "not 'nan'"},
      {{"run", "x", "--coins", "1,000"}, "not '1,000'"},
      {{"run", "x", "--coins", ""}, "not ''"},
      {{"run", "x", "--seed", "18446744073709551616"}, "from 0 to 18446744073709551615"},
      {{"run", "x", "--threads", "0"}, "from 1 to 1024"},
      {{"run", "x", "--seed", "1", "--seed", "2"}, "--seed is given twice"},
      {{"run", "x", "--set", "thickness"}, "--set takes PATH=VALUE"},
      {{"run", "x", "--set", "=5 um"}, "--set takes PATH=VALUE"},
      {{"run", "x", "--json", ""}, "the name is empty"},
      {{"run", "x", "--json", "--csv"}, "write ./--csv for such a name"},
      {{"run", "x", "--quiet=2"}, "--quiet takes no value"},
      {{"run", "x", "--fresh", "--no-store"}, "choose one"},
      {{"run", "x", "--report", "customer"}, "name it with --page FILE"},
      {{"run", "x", "--page", "p", "--report", "buyer"}, "--report takes engineer or customer, not 'buyer'"},
      {{"run", "x", "y", "--page", "p", "--report", "customer"}, "give --page a directory"},
      {{"run", "x", "--until", "accepted"}, "a figure, '+/-' and a half-width are expected"},
      {{"run", "x", "--until", "accepted +/- 0 %"}, "the half-width has to be a positive number"},
      {{"run", "x", "--until", "accepted +/- -1 %"}, "the half-width has to be a positive number"},
      {{"run", "x", "--until", "accepted +/- nan %"}, "the half-width has to be a positive number"},
      {{"run", "x", "--until", "accepted +/- 0.01"}, "takes its half-width in %"},
      {{"run", "x", "--until", "spread of skin +/- 1"}, "the figures are 'accepted', 'accepted by CLASS'"},
      {{"run", "x", "--until", "97.5 quantile of skin +/- 1"}, "the figures are 'accepted', 'accepted by CLASS'"},
      {{"run", "x", "--at-most", "1e6"}, "--at-most limits --until, which is not given"},
      {{"run", "x", "--lots", "20", "--lot-rate", "0.3"}, "--lot-rate takes a part between 0 and 100 %"},
      {{"run", "x", "--lots", "20", "--lot-rate", "0 %"}, "--lot-rate takes a part between 0 and 100 %"},
      {{"run", "x", "--lots", "20", "--lot-rate", "-1 %"}, "not '-1 %'"},
      {{"run", "x", "--lot-rate", "0.3 %"}, "which --lots N draws"},
      {{"reading", "x", "y"}, "'y' is one too many"},
      {{"fit"}, "fit: which? Name a table of measurements"},
      {{"fit", "x", "--colum", "t"}, "there is no option --colum: did you mean --column?"},
      {{"fit", "x", "--draws", "-1"}, "--draws takes a whole number from 0 to"},
  };
  for (const auto& row : rows) {
    const Ended ended = run_program(row.arguments);
    CAPTURE(row.arguments);
    CHECK(ended.status == 2);
    CHECK(ended.out == "");
    CHECK_THAT(ended.err, Contains(row.message));
  }
}

TEST_CASE("help goes to standard output, for the program and for each command") {
  for (const char* word : {"--help", "-h", "help"}) {
    const Ended ended = run_program({word});
    CHECK(ended.status == 0);
    CHECK(ended.err == "");
    for (const char* command : {"run", "reading", "check"}) CHECK_THAT(ended.out, Contains(command));
  }
  const Ended run = run_program({"run", "--help", "--coins", "5"});
  CHECK(run.status == 0);
  for (const char* option : {"--set", "--coins", "--seed", "--outer", "--threads", "--json", "--csv", "--page",
                             "--report", "--samples", "--until", "--at-most", "--points", "--planar", "--tolerance",
                             "--no-times", "--fresh", "--no-store", "--quiet"})
    CHECK_THAT(run.out, Contains(std::string("  ") + option));
  CHECK(run_program({"check", "--help"}).out != run.out);
}

TEST_CASE("the program tells its version") {
  const Ended ended = run_program({"--version"});
  CHECK(ended.status == 0);
  CHECK_THAT(ended.out, Catch::StartsWith("mintspread " MINTSPREAD_VERSION));
}
