#include "specs/number.hpp"

#include <catch2/catch.hpp>

using namespace mintspread::specs;

namespace {
double value(const char* text) { return std::get<double>(whole_number_text(text)); }
std::string fault(const char* text) { return std::get<TextFault>(whole_number_text(text)).what; }
}  // namespace

TEST_CASE("a number is read to its last digit whatever its notation") {
  CHECK(value("18") == 18.0);
  CHECK(value("+3") == 3.0);
  CHECK(value("-0.5") == -0.5);
  CHECK(value(".25") == 0.25);
  CHECK(value("3.93e-3") == 3.93e-3);
  CHECK(value("1E6") == 1e6);
  CHECK(value("  7 ") == 7.0);
  CHECK(value("0.1") == 0.1);
}

TEST_CASE("what would be misread as a number is refused and named") {
  CHECK_THAT(fault("1,5"), Catch::Contains("comma"));
  CHECK_THAT(std::get<TextFault>(whole_number_text("1,5")).remedy, Catch::Contains("`1.5`"));
  CHECK(std::get<TextFault>(whole_number_text("1,5")).at == 1);
  CHECK_THAT(fault(",5"), Catch::Contains("comma"));
  CHECK_THAT(fault(".inf"), Catch::Contains("not a finite number"));
  CHECK_THAT(fault("-.inf"), Catch::Contains("not a finite number"));
  CHECK_THAT(fault(".nan"), Catch::Contains("not a finite number"));
  CHECK_THAT(fault("nan"), Catch::Contains("not a finite number"));
  CHECK_THAT(fault("inf"), Catch::Contains("not a finite number"));
  CHECK_THAT(fault("010"), Catch::Contains("leading zeros"));
  CHECK_THAT(fault("1e999"), Catch::Contains("too large"));
  CHECK_THAT(fault("1e-999"), Catch::Contains("too small"));
  CHECK_THAT(fault("1_000"), Catch::Contains("cannot be read"));
  CHECK_THAT(fault("1 000"), Catch::Contains("blank"));
  CHECK_THAT(fault("1.2.3"), Catch::Contains("cannot be read"));
  CHECK_THAT(fault("0x10"), Catch::Contains("only a number"));
  CHECK_THAT(fault("\u22125"), Catch::Contains("minus"));
  CHECK_THAT(fault("5 um"), Catch::Contains("only a number"));
  CHECK_THAT(fault(""), Catch::Contains("missing"));
  CHECK_THAT(fault("many"), Catch::Contains("not a number"));
  CHECK_THAT(fault("--5"), Catch::Contains("not a number"));
}

TEST_CASE("a count takes the notations people use and nothing below one") {
  CHECK(std::get<std::size_t>(count_text("600000")) == 600000);
  CHECK(std::get<std::size_t>(count_text("6e5")) == 600000);
  for (const char* bad : {"0", "-3", "1.5", "1e30", "x"}) CHECK(std::holds_alternative<TextFault>(count_text(bad)));
}
