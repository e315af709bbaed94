#include "reports/numbers.hpp"

#include <catch2/catch.hpp>
#include <limits>

using namespace mintspread;
using namespace mintspread::reports;

namespace {

study::Figure figure(double value, double lower, double upper) { return {value, study::Interval{lower, upper}, {}}; }

constexpr double nan_value = std::numeric_limits<double>::quiet_NaN();

}  // namespace

TEST_CASE("An uncertainty shows two significant digits, also when rounding carries") {
  // JCGM 100:2008, 7.2.6: at most two significant digits of an uncertainty; its example, R = 10.05762 ohm with
  // u = 27 mohm, becomes 10.058 ohm.
  CHECK(fixed(10.05762, decimal_places(0.027)) == "10.058");
  CHECK(decimal_places(0.0423) == 3);
  CHECK(decimal_places(0.0996) == 2);
  CHECK(decimal_places(0.0994) == 3);
  CHECK(decimal_places(42.0) == 0);
  CHECK(decimal_places(4200.0) == -2);
  CHECK(fixed(123456.0, -2) == "123500");
}

TEST_CASE("A figure is told no finer than its interval, and its interval never narrower than computed") {
  const Told text = told(figure(431.31042, 431.2954, 431.3259));
  CHECK(text.value == "431.310");
  CHECK(text.half_width == "0.016");
  CHECK(text.lower == "431.295");
  CHECK(text.upper == "431.326");
}

TEST_CASE("A bound that is already whole at its last place stays") {
  const Told text = told(figure(0.3, 0.1, 0.5));
  CHECK(text.lower == "0.10");
  CHECK(text.upper == "0.50");
}

TEST_CASE("A value that rounds to nothing carries no minus sign") { CHECK(fixed(-0.0004, 2) == "0.00"); }

TEST_CASE("A figure without spread keeps six digits and an interval of width zero") {
  const Told text = told(figure(1.75, 1.75, 1.75));
  CHECK(text.value == "1.75");
  CHECK(text.half_width == "0");
  CHECK(told({1234.56789, {}, {}}).value == "1234.57");
  CHECK(told({1234.56789, {}, {}}).half_width.empty());
}

TEST_CASE("What is undefined says so with a word") {
  CHECK(told({nan_value, {}, {}}).value == "undefined");
  CHECK(told_percent({nan_value, {}, {}}).value == "undefined");
  CHECK(percent(told_percent({nan_value, {}, {}})) == "undefined");
}

TEST_CASE("All accepted and none accepted are told from the interval") {
  // Clopper-Pearson at 0 of 1e6: upper bound 1 - 0.025^(1e-6) = 3.6889e-6 (closed form).
  const double bound = 3.6889e-6;
  CHECK(percent(told_percent(figure(1.0, 1.0 - bound, 1.0))) == "> 99.99963 %");
  CHECK(percent(told_percent(figure(0.0, 0.0, bound))) == "< 0.00037 %");
  CHECK(percent(told_percent({1.0, {}, {}})) == "all seen");
  CHECK(percent(told_percent({0.0, {}, {}})) == "none seen");
}

TEST_CASE("One rejected piece in a million reads neither 100 % nor 0 %, nor do its bounds") {
  // Clopper-Pearson at 1 of 1e6: 2.5318e-8 and 5.5716e-6 (closed form and beta quantile).
  const Told accepted = told_percent(figure(1.0 - 1e-6, 1.0 - 5.5716e-6, 1.0 - 2.5318e-8));
  CHECK(accepted.value.substr(0, 7) == "99.9999");
  CHECK(std::stod(accepted.upper) < 100.0);
  const Told rejected = told_percent(figure(1e-6, 2.5318e-8, 5.5716e-6));
  CHECK(std::stod(rejected.value) == Approx(1e-4));
  CHECK(std::stod(rejected.lower) > 0.0);
}

TEST_CASE("A band that reaches every piece says all, not 100 %") {
  study::Figure accepted = figure(0.9998, 0.9997, 0.9999);
  accepted.band = study::Band{0.97, 1.0};
  CHECK(told_percent(accepted).band_upper == "all");
}

TEST_CASE("No line breaks between a number and its unit, behind a sign or inside a number") {
  CHECK(unbroken("99.9 % of 405 .. 452 counts") == "99.9\u00a0% of 405 .. 452\u00a0counts");
  CHECK(unbroken("18 um +/- 2 um, 240 kHz; >= 3 sd") ==
        "18\u00a0um +/-\u00a02\u00a0um, 240\u00a0kHz; >=\u00a03\u00a0sd");
  CHECK(unbroken("all of 999 998 pieces, 99.73 % 1 756") == "all of 999\u202f998 pieces, 99.73\u00a0% 1\u202f756");
  CHECK(unbroken("40.1 µm and 12 °C") == "40.1\u00a0µm and 12\u00a0°C");
  // Words that only begin like a unit, years and numbers of four digits stay as they are.
  CHECK(unbroken("2 coins, 3 minutes in 2026 1000") == "2 coins, 3 minutes in 2026 1000");
  CHECK(unbroken("") == "");
}

TEST_CASE("The shortest text reads back as the same number") {
  CHECK(shortest(0.1) == "0.1");
  CHECK(shortest(0.1 + 0.2) == "0.30000000000000004");
  CHECK(shortest(1e300) == "1e+300");
}

TEST_CASE("Numbers without an uncertainty drop trailing zeros and take prefixes") {
  CHECK(significant(6.0) == "6");
  CHECK(significant(0.00001234) == "1.234e-05");
  CHECK(with_prefix(1.5e-5, "m") == "15 um");
  CHECK(with_prefix(240e3, "Hz") == "240 kHz");
  CHECK(with_prefix(1e-6, "s") == "1 us");
  CHECK(with_prefix(1e-3, "s") == "1 ms");
  CHECK(with_prefix(0.0, "V") == "0 V");
  CHECK(count(1234567) == "1 234 567");
  CHECK(count(999) == "999");
}
