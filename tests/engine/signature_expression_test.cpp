#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "engine/signature/expression.hpp"

using namespace mintspread;
using namespace mintspread::signature;

namespace {

const std::vector<std::string> channels{"skin", "core", "far side", "late-gate"};

/// The problems of a formula, as one text.
std::string refused(const std::string& text) {
  try {
    Expression expression(text, channels, "sensor.channels.x");
  } catch (const InvalidSpecification& invalid) {
    std::string all;
    for (const Problem& problem : invalid.problems()) {
      CHECK(problem.path == "sensor.channels.x");
      all += problem.what + " | " + problem.remedy + "\n";
    }
    return all;
  }
  return "accepted";
}

double value(const std::string& text, std::vector<double> lane) {
  Columns values(channels.size(), 8);
  for (std::size_t c = 0; c < lane.size(); ++c) values[c][3] = lane[c];
  Columns out(1, 8);
  Expression(text, channels, "x").evaluate(values, out[0]);
  return out[0][3];
}

}  // namespace

TEST_CASE("an expression of channels gives what the formula says") {
  CHECK(value("skin + 2 * core", {1, 3, 0, 0}) == 7);
  CHECK(value("log(skin / core)", {std::exp(1.0), 1, 0, 0}) == Approx(1).epsilon(1e-15));
  CHECK(value("log10(skin)", {1000, 0, 0, 0}) == Approx(3).epsilon(1e-15));
  CHECK(value("far_side^2 - late_gate", {0, 0, 3, 4}) == 5);
  CHECK(value("skin > core ? 1 : 2", {1, 3, 0, 0}) == 2);
  CHECK(value("min(skin, core, 5)", {7, 6, 0, 0}) == 5);
  CHECK(value("skin == core && core >= 2", {2, 2, 0, 0}) == 1);
  CHECK(value("1e-3 * skin", {2, 0, 0, 0}) == 2e-3);
}

TEST_CASE("a formula without a value is undefined, not infinite and not silent") {
  CHECK(std::isnan(value("1 / skin", {0, 0, 0, 0})));
  CHECK(std::isnan(value("log(skin)", {-1, 0, 0, 0})));
  CHECK(std::isnan(value("log(skin)", {0, 0, 0, 0})));
  CHECK(std::isnan(value("sqrt(skin)", {-1, 0, 0, 0})));
  CHECK(value("log(skin)", {1, 0, 0, 0}) == 0);
}

TEST_CASE("a comparison with an undefined channel is undefined") {
  const double nan = std::nan("");
  CHECK(std::isnan(value("skin > 3 ? 1 : 0", {nan, 0, 0, 0})));
  CHECK(std::isnan(value("max(skin, core)", {nan, 1, 0, 0})));
  // A channel that the formula does not use may be missing.
  CHECK(value("skin + 1", {1, nan, 0, 0}) == 2);
}

TEST_CASE("an unknown channel is named with the nearest known one, all at once") {
  const std::string text = refused("skim + coer");
  CHECK(text.find("`skim`") != std::string::npos);
  CHECK(text.find("Did you mean `skin`?") != std::string::npos);
  CHECK(text.find("`coer`") != std::string::npos);
  CHECK(text.find("Did you mean `core`?") != std::string::npos);
  CHECK(refused("far side").find("cannot be read") != std::string::npos);
}

TEST_CASE("an expression that assigns, gives two results or runs too long is refused") {
  CHECK(refused("skin = 5").find("assigns") != std::string::npos);
  CHECK(refused("skin == 5") == "accepted");
  CHECK(refused("skin <= 5 && skin != 3") == "accepted");
  CHECK(refused("skin === 5").find("assigns") != std::string::npos);
  CHECK(refused("1,5 + skin").find("several results") != std::string::npos);
  CHECK(refused("skin, core").find("several results") != std::string::npos);
  std::string chain = "skin";
  while (chain.size() < 501) chain += "+skin";
  CHECK(refused(chain).find("500") != std::string::npos);
  CHECK(refused("  ").find("empty") != std::string::npos);
  CHECK(refused("1 + 2").find("no channel") != std::string::npos);
}

TEST_CASE("what cannot be read is refused with its place and the functions there are") {
  CHECK(refused("skin +").find("cannot be read") != std::string::npos);
  CHECK(refused("(skin").find("cannot be read") != std::string::npos);
  CHECK(refused("frobnicate(skin)").find("log10") != std::string::npos);
  CHECK(refused("skin + 'a'").find("cannot be read") != std::string::npos);
  CHECK(refused("\"skin\"").find("cannot be read") != std::string::npos);
  CHECK(refused("skin + \xc3\xbc").find("cannot be read") != std::string::npos);
}

TEST_CASE("no formula can call for a random number") { CHECK(refused("skin + rnd()") != "accepted"); }

TEST_CASE("a copy of an expression reads its own values") {
  Columns first(channels.size(), 8), second(channels.size(), 8), out(2, 8);
  first[0][0] = 1;
  second[0][0] = 2;
  Expression original("skin * 10", channels, "x");
  Expression copy(original);
  copy.evaluate(second, out[1]);
  original.evaluate(first, out[0]);
  CHECK(out[0][0] == 10);
  CHECK(out[1][0] == 20);
  Expression assigned("core", channels, "x");
  assigned = original;
  assigned.evaluate(second, out[0]);
  CHECK(out[0][0] == 20);
}

TEST_CASE("used channels are told by position") {
  const Expression expression("late_gate + core", channels, "x");
  REQUIRE(expression.used().size() == 2);
  CHECK(expression.used()[0] == 1);
  CHECK(expression.used()[1] == 3);
}

TEST_CASE("names become variables") {
  CHECK(variable_name("far side") == "far_side");
  CHECK(variable_name("20 kHz, face") == "_20_kHz__face");
  CHECK(variable_name("skin") == "skin");
}
