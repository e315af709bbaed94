#include <catch2/catch.hpp>
#include <cmath>

#include "specs/quantity_text.hpp"
#include "tests/specs/in_memory.hpp"

using namespace mintspread;
using namespace mintspread::test;
using Catch::Contains;

namespace {

template <class Shape>
Shape shape(const study::Input& input, std::size_t component = 0) {
  return std::get<Shape>(input.components.at(component).deviation);
}

std::string refused(const std::string& thickness) { return refusal(coin_with(thickness)); }

constexpr double um = 1e-6;

}  // namespace

TEST_CASE("a value alone is exact") {
  const auto i = skin("18 um");
  CHECK(i.nominal == Approx(18 * um).epsilon(1e-15));
  CHECK(i.components.empty());
  CHECK_FALSE(i.tolerance.bounded());
  CHECK(i.understood == "18 um: exact, thickness on the face");
}

TEST_CASE("a tolerance sets the limits and, unless told otherwise, three standard deviations") {
  const auto i = skin("18 um +/- 2 um");
  CHECK(i.tolerance.lower == Approx(16 * um).epsilon(1e-14));
  CHECK(i.tolerance.upper == Approx(20 * um).epsilon(1e-14));
  CHECK(shape<sampling::Normal>(i).sd == Approx(2 * um / 3).epsilon(1e-14));
  CHECK_FALSE(i.components[0].relative);
  CHECK(i.components[0].level == study::piece_level);
  CHECK(i.understood ==
        "18 um +/- 2 um: normal, 3 sd = tolerance, sd 0.667 um, thickness on the face, piece to piece, not sorted");
}

TEST_CASE("a tolerance in per cent is of the value and stays relative to it") {
  const auto i = skin("18 um +/- 12 %");
  CHECK(i.tolerance.lower == Approx(15.84 * um).epsilon(1e-14));
  CHECK(i.tolerance.upper == Approx(20.16 * um).epsilon(1e-14));
  CHECK(i.components[0].relative);
  CHECK(shape<sampling::Normal>(i).sd == Approx(0.04).epsilon(1e-14));
  CHECK_THAT(i.understood, Contains("sd 4 % (0.72 um)"));
}

TEST_CASE("per cent beside a value in per cent are percentage points, beside any other value a part of it") {
  const auto ratio = [](const std::string& text) {
    return input(read(coin_with("6 um\n      permeability: " + text)), "section.layers.skin.permeability");
  };
  const auto points = ratio("200 % +/- 20 %");
  CHECK_FALSE(points.components[0].relative);
  CHECK(points.tolerance.lower == Approx(1.8));
  const auto part = ratio("2 +/- 20 %");
  CHECK(part.components[0].relative);
  CHECK(part.tolerance.lower == Approx(1.6));
  // % IACS is a unit of its own: 2 % of 22 % IACS.
  const auto iacs =
      input(read(coin_with("6 um\n      conductivity: 22 % IACS +/- 2 %")), "section.layers.skin.conductivity");
  CHECK(iacs.nominal == Approx(0.22 * 58e6));
  CHECK(iacs.tolerance.upper == Approx(1.02 * 0.22 * 58e6));
}

TEST_CASE("unequal deviations make two half normals") {
  for (const char* text : {"18 um +3/-1 um", "18 um +3 um / -1 um", "18 um -1/+3 um", "18 +3/-1 um"}) {
    INFO(text);
    const auto i = skin(text);
    CHECK(i.tolerance.lower == Approx(17 * um));
    CHECK(i.tolerance.upper == Approx(21 * um));
    CHECK(shape<sampling::TwoPieceNormal>(i).sd_above == Approx(1 * um));
    CHECK(shape<sampling::TwoPieceNormal>(i).sd_below == Approx(um / 3));
  }
  CHECK(shape<sampling::TwoPieceNormal>(skin("18 um +0/-3 um")).sd_above == 0.0);
}

TEST_CASE("a range is uniform between its ends, and one unit serves both") {
  for (const char* text : {"16 .. 20 um", "16 um .. 20 um", "16000 nm .. 20 um", "16..20 um"}) {
    INFO(text);
    const auto i = skin(text);
    CHECK(i.nominal == Approx(18 * um));
    CHECK(shape<sampling::Uniform>(i).lower == Approx(-2 * um));
    CHECK(shape<sampling::Uniform>(i).upper == Approx(2 * um));
    CHECK(i.tolerance.lower == Approx(16 * um));
  }
}

TEST_CASE("a tolerance may have another unit of the same kind than its value") {
  const auto i = skin("0.018 mm +/- 2 um");
  CHECK(i.tolerance.upper == Approx(20 * um));
  CHECK(skin("18 +/- 2 um").nominal == Approx(18 * um));
}

TEST_CASE("per names the level of variation") {
  CHECK(skin("18 um +/- 2 um per barrel").components[0].level == 2);
  CHECK(skin("18 um +/- 2 um per lot").components[0].level == 3);
  CHECK(skin("18 um +/- 2 um per piece").components[0].level == study::piece_level);
  CHECK(skin("18 um +/- 2 um per reading").components[0].level == study::reading_level);
  CHECK(skin("{value: 18 um +/- 2 um, per: barrel}").components[0].level == 2);
  CHECK_THAT(refused("18 um +/- 2 um per barel"), Contains("9:") || Contains("Did you mean `barrel`?"));
  CHECK_THAT(refused("18 um per barrel"), Contains("but not by how much"));
  CHECK_THAT(refused("18 um +/- 2 um per"), Contains("names no group"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um per lot, per: barrel}"), Contains("in `value` already"));
}

TEST_CASE("coverage, capability and sd set the standard deviation, one of them at a time") {
  // Standard normal quantiles: z(0.975) = 1.959964, z(0.995) = 2.575829 (NIST/SEMATECH e-Handbook, 1.3.6.7.1, rounded
  // there).
  CHECK(shape<sampling::Normal>(skin("{value: 18 um +/- 2 um, coverage: 95 %}")).sd ==
        Approx(2 * um / 1.959964).epsilon(1e-6));
  CHECK(shape<sampling::Normal>(skin("{value: 18 um +/- 2 um, coverage: 99 %}")).sd ==
        Approx(2 * um / 2.575829).epsilon(1e-6));
  CHECK(shape<sampling::Normal>(skin("{value: 18 um +/- 2 um, capability: 1.33}")).sd == Approx(2 * um / 3.99));
  const auto stated = skin("{value: 18 um +/- 2 um, sd: 0.6 um}");
  CHECK(shape<sampling::Normal>(stated).sd == Approx(0.6 * um));
  CHECK(stated.tolerance.upper == Approx(20 * um));
  CHECK_THAT(stated.understood, Contains("sd as stated, 0.6 um"));
  const auto relative = skin("{value: 18 um, sd: 3 %}");
  CHECK(relative.components[0].relative);
  CHECK(shape<sampling::Normal>(relative).sd == Approx(0.03));
  const auto two_sided = skin("{value: 18 um +3/-1 um, coverage: 95 %}");
  CHECK(shape<sampling::TwoPieceNormal>(two_sided).sd_above == Approx(3 * um / 1.959964).epsilon(1e-6));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, coverage: 95 %, capability: 1}"),
             Contains("each sets the standard deviation"));
  CHECK_THAT(refused("{value: 18 um, coverage: 95 %}"), Contains("there is no tolerance"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, coverage: 100 %}"), Contains("between 0 and 100 %"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, capability: 0}"), Contains("larger than 0"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, sd: 0 um}"), Contains("larger than 0"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, sd: 1 ms}"), Contains("a time stands beside a length"));
  CHECK_THAT(refused("{value: 16 .. 20 um, sd: 1 um}"), Contains("a range is uniform"));
}

TEST_CASE("every shape of the grammar becomes its distribution of deviations") {
  CHECK(shape<sampling::TruncatedNormal>(skin("{value: 18 um +/- 2 um, shape: truncated normal}")).upper ==
        Approx(2 * um));
  CHECK(shape<sampling::Uniform>(skin("{value: 18 um +/- 2 um, shape: uniform}")).lower == Approx(-2 * um));
  const auto triangle = shape<sampling::Triangular>(skin("{value: 18 um +3/-1 um, shape: triangular}"));
  CHECK(triangle.lower == Approx(-1 * um));
  CHECK(triangle.mode == 0.0);
  CHECK(triangle.upper == Approx(3 * um));
  CHECK(shape<sampling::Arcsine>(skin("{value: 18 um +/- 2 um, shape: arcsine}")).upper == Approx(2 * um));
  const auto log_stated = skin("{value: 18 um, shape: lognormal, sd: 4 %}");
  CHECK(shape<sampling::Lognormal>(log_stated).log_sd == Approx(0.04));
  CHECK(shape<sampling::Lognormal>(log_stated).scale == 1.0);
  CHECK(log_stated.components[0].relative);
  // Half the logarithmic width of the limits, 15.84 and 20.16, over three.
  CHECK(shape<sampling::Lognormal>(skin("{value: 18 um +/- 12 %, shape: lognormal}")).log_sd ==
        Approx(std::log(20.16 / 15.84) / 6));
  CHECK(shape<sampling::Lognormal>(skin("{value: 18 um +3/-1 um, shape: lognormal}")).log_sd ==
        Approx(std::log(21.0 / 17.0) / 6));
  const auto t = shape<sampling::StudentT>(skin("{value: 18 um, shape: student t, degrees of freedom: 8, sd: 0.5 um}"));
  CHECK(t.scale == Approx(0.5 * um));
  CHECK(t.degrees_of_freedom == 8.0);
  const auto trapezoid = shape<sampling::CurvilinearTrapezoid>(
      skin("{value: 18 um +/- 2 um, shape: curvilinear trapezoid, edge: 0.2 um}"));
  CHECK(trapezoid.half_width == Approx(2 * um));
  CHECK(trapezoid.edge == Approx(0.2 * um));
  CHECK(shape<sampling::Normal>(skin("{value: 16 .. 20 um, shape: normal}")).sd == Approx(2 * um / 3));

  CHECK_THAT(refused("{value: 18 um, shape: uniform}"), Contains("needs limits"));
  CHECK_THAT(refused("{value: 18 um +3/-1 um, shape: normal}"), Contains("equal sides"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, shape: uniform, sd: 1 um}"), Contains("given by its limits"));
  CHECK_THAT(refused("{value: 18 um, shape: student t, sd: 1 um}"), Contains("degrees of freedom"));
  CHECK_THAT(refused("{value: 18 um, shape: student t, sd: 1 um, degrees of freedom: 2}"),
             Contains("no standard deviation"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, shape: curvilinear trapezoid}"), Contains("`edge`"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, shape: curvilinear trapezoid, edge: 3 um}"),
             Contains("between 0 and the tolerance"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, edge: 1 um}"), Contains("has no edge"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, shape: gauss}"), Contains("not among the choices"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, shape: measured}"), Contains("needs `data`"));
}

TEST_CASE("sorting cuts every shape at the limits and says so") {
  const auto normal = skin("{value: 18 um +/- 2 um, sorted: true}");
  CHECK(shape<sampling::TruncatedNormal>(normal).lower == Approx(-2 * um));
  CHECK(shape<sampling::TruncatedNormal>(normal).sd == Approx(2 * um / 3));
  CHECK_THAT(normal.understood, Contains("sorted by a perfect gauge") && !Contains("not sorted"));
  const auto two = shape<std::shared_ptr<const sampling::Truncated>>(skin("{value: 18 um +3/-1 um, sorted: true}"));
  CHECK(two->upper == Approx(3 * um));
  CHECK(std::holds_alternative<sampling::TwoPieceNormal>(two->shape));
  // A lognormal deviates by fractions of its median, so its limits do.
  const auto log = shape<std::shared_ptr<const sampling::Truncated>>(
      skin("{value: 18 um +/- 2 um, shape: lognormal, sorted: true}"));
  CHECK(log->upper == Approx(2.0 / 18));
  CHECK(std::holds_alternative<sampling::Uniform>(skin("{value: 16 .. 20 um, sorted: true}").components[0].deviation));
  CHECK(
      std::holds_alternative<sampling::Normal>(skin("{value: 18 um +/- 2 um, sorted: false}").components[0].deviation));
  CHECK_THAT(refused("{value: 18 um, sd: 1 um, sorted: true}"), Contains("no limits to sort by"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, sorted: true, varies: 3 % per lot}"),
             Contains("sorts by the whole value"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, sorted: true, known to: 10 .. 20 um}"), Contains("not known"));
  CHECK_THAT(refused("{value: 18 um +/- 2 um, sorted: yes}"), Contains("neither true nor false"));
}

TEST_CASE("a drift is even between the limits unless a shape is stated, and says where it begins anew") {
  const auto i = skin("{value: 18 um +/- 2 um per barrel, drift: falling over 12 barrel}");
  REQUIRE(i.components.size() == 1);
  CHECK(shape<sampling::Uniform>(i).upper == Approx(2 * um));
  const std::size_t barrel = i.components[0].level;
  CHECK(i.components[0].drift == study::Drift{barrel, 12, true});
  CHECK_THAT(i.understood, Contains("uniform between the limits, falling evenly over 12 units of barrel"));
  const auto worn = skin("{value: 16 .. 20 um, drift: rising over barrel}");
  CHECK(worn.components[0].level == study::piece_level);
  CHECK(worn.components[0].drift == study::Drift{barrel, 1, false});
  const auto stated = skin("{value: 18 um +/- 2 um, shape: triangular, drift: rising over barrel}");
  CHECK(std::holds_alternative<sampling::Triangular>(stated.components[0].deviation));
}

TEST_CASE("further components add up, each at its level") {
  const auto i =
      skin("{value: 18 um +/- 2 um per barrel, varies: [3 % per lot, +/- 0.6 um per piece, -1 .. 1 um, +3/-1 um]}");
  REQUIRE(i.components.size() == 5);
  CHECK(i.components[1].relative);
  CHECK(shape<sampling::Normal>(i, 1).sd == Approx(0.03));
  CHECK(i.components[1].level == 3);
  CHECK(shape<sampling::Normal>(i, 2).sd == Approx(0.2 * um));
  CHECK(shape<sampling::Uniform>(i, 3).upper == Approx(1 * um));
  CHECK(shape<sampling::TwoPieceNormal>(i, 4).sd_above == Approx(1 * um));
  CHECK_THAT(i.understood, Contains("and normal, sd as stated, 3 % (0.54 um), lot to lot"));
  CHECK(skin("{value: 18 um, varies: 3 % per lot}").components.size() == 1);
  CHECK_THAT(refused("{value: 18 um, varies: 3 % per heat}"), Contains("`heat` is no group"));
  CHECK_THAT(refused("{value: 18 um, varies: 18 um +/- 2 um}"), Contains("no value of its own"));
  CHECK_THAT(refused("{value: 18 um, varies: 0 um}"), Contains("larger than 0"));
}

TEST_CASE("what is known to lie in a range is kept apart from what varies") {
  const auto i = skin("{known to: 10 .. 20 um, varies: 8 % per lot, basis: guess}");
  REQUIRE(i.known_to);
  CHECK(i.known_to->lower == Approx(10 * um));
  CHECK(i.known_to->upper == Approx(20 * um));
  CHECK(i.nominal == Approx(15 * um));
  CHECK(i.components.size() == 1);
  CHECK(i.basis == study::Basis::guess);
  CHECK_THAT(i.understood, Contains("known to lie in 10 .. 20 um, uniform belief, fixed in the plant"));
  CHECK(skin("{value: 12 um, known to: 10 .. 20 um}").nominal == Approx(12 * um));
  CHECK_THAT(refused("{value: 25 um, known to: 10 .. 20 um}"), Contains("outside of what is known"));
  CHECK_THAT(refused("{known to: 15 um}"), Contains("not a range"));
  CHECK_THAT(refused("{known to: 10 .. 20 um per lot}"), Contains("varies per nothing"));
  CHECK_THAT(refused("{known to: 20 .. 10 um}"), Contains("not below its end"));
}

TEST_CASE("a basis is one of five words, the rest a note") {
  const auto i = skin("{value: 18 um, basis: \"measured n=40, xrf\"}");
  CHECK(i.basis == study::Basis::measured);
  CHECK(i.basis_note == "n=40, xrf");
  CHECK(skin("18 um").basis == study::Basis::unstated);
  CHECK_THAT(refused("{value: 18 um, basis: mesured}"), Contains("Did you mean `measured`?"));
  // Values of the handbook have its word.
  CHECK(input(read(coin_with("18 um")), "section.layers.skin.permeability").basis == study::Basis::handbook);
}

TEST_CASE("a mixture weighs its parts about their common mean") {
  const auto i = skin(
      "{shape: mixture, parts: [{weight: 75 %, value: 16 um +/- 3 um}, {weight: 25 %, value: 20 um +/- 10 %, shape: "
      "uniform}], per: lot}");
  CHECK(i.nominal == Approx(17 * um));
  CHECK(i.components[0].level == 3);
  const auto mixture = shape<std::shared_ptr<const sampling::Mixture>>(i);
  REQUIRE(mixture->parts.size() == 2);
  CHECK(mixture->parts[0].weight == Approx(0.75));
  CHECK(mixture->parts[0].shift == Approx(-1 * um));
  CHECK(std::get<sampling::Normal>(mixture->parts[0].shape).sd == Approx(1 * um));
  CHECK(mixture->parts[1].shift == Approx(3 * um));
  CHECK(std::get<sampling::Uniform>(mixture->parts[1].shape).upper == Approx(2 * um));
  CHECK_THAT(refused("{parts: [{weight: 70 %, value: 16 um}, {weight: 20 %, value: 20 um}]}"),
             Contains("add up to 90 %"));
  CHECK_THAT(refused("{parts: [{weight: 100 %, value: 16 um}]}"), Contains("two parts"));
  CHECK_THAT(refused("{parts: [{weight: 50 %, value: 16 um}, {weight: 50 %, value: 20 MS/m}]}"),
             Contains("a conductivity stands here"));
  CHECK_THAT(refused("{sd: 1 um, parts: [{weight: 50 %, value: 16 um}, {weight: 50 %, value: 20 um}]}"),
             Contains("gives the whole distribution"));
}

TEST_CASE("physical bounds hold for the value, its limits and what is known") {
  CHECK_THAT(refused("-18 um"), Contains("must be above 0 um: a layer cannot be thinner than nothing"));
  CHECK_THAT(refused("1 um +/- 2 um"), Contains("the lower limit is -1 um"));
  CHECK_THAT(refused("{known to: -1 .. 2 um}"), Contains("the lower limit is -1 um"));
  CHECK_THAT(refused("6 um\n      permeability: 0.5"), Contains("a metal's relative permeability is 1 or more"));
  CHECK_THAT(refused("6 um\n      conductivity: 90 MS/m"), Contains("silver"));
  CHECK(skin("18 um").smallest == 0.0);
}

TEST_CASE("noticeable tails beyond a bound are warned of with their share") {
  // 3 sd = 5 um leaves 0.135 % below zero, as on either side of any normal (percentile method of ISO 22514).
  const auto specification = read(coin_with("{value: 5 um, sd: 1.666666667 um}"));
  REQUIRE(specification.warnings.size() == 1);
  CHECK_THAT(specification.warnings[0].what, Contains("about 0.13 % of the draws lie below 0 um"));
  CHECK(read(coin_with("{value: 18 um, sd: 3 um}")).warnings.empty());
}

TEST_CASE("units are wanted, and of the right kind") {
  CHECK_THAT(refused("18"), Contains("no unit stands after this number") && Contains("18 um"));
  CHECK_THAT(refused("18 um +/- 2"), Contains("no unit stands after this number"));
  CHECK_THAT(refused("18 ms"), Contains("a time stands here, where a length is wanted"));
  CHECK_THAT(refused("18 um +/- 2 g"), Contains("a mass stands beside a length"));
  CHECK_THAT(refused("16 um .. 20"), Contains("upper end"));
  CHECK_THAT(refused("18 micron"), Contains("Write `um`"));
  CHECK_THAT(refused("18,5 um"), Contains("`18.5`"));
  CHECK_THAT(refused("18 um +/- 2,5 um"), Contains("`2.5`"));
  CHECK_THAT(refused("18 um +- 2 um"), Contains("Write `+/-`"));
  CHECK_THAT(refused("18 um +3 um"), Contains("without the other"));
  CHECK_THAT(refused("18 um +3/+1 um"), Contains("outside its own limits"));
  CHECK_THAT(refused("18 um +/- 0 um"), Contains("tolerance of zero"));
  CHECK_THAT(refused("18 um +/- -2 um"), Contains("not below zero"));
  CHECK_THAT(refused("20 .. 16 um"), Contains("not below its end"));
  CHECK_THAT(refused("+/- 2 um"), Contains("without the value"));
  CHECK_THAT(refused("'18 um +/- 1 um +/- 2 um'"), Contains("two tolerances"));
  CHECK(skin("18 um \u00B1 2 um").components.size() == 1);
}

TEST_CASE("a tolerance of 5 degC is a difference, and a part of a temperature nothing") {
  auto files = coin_with("18 um");
  const auto with_temperature = [&](const std::string& text) {
    files["sensor.yaml"] =
        "format: mintspread sensor 1\nsensor: {name: bench}\nslot: {width: 3 mm, temperature: " + text +
        "}\nchannels: {gauge: {value: rim thickness}}\n";
    return files;
  };
  const auto i = input(read(with_temperature("20 degC +/- 5 degC")), "sensor.slot.temperature");
  CHECK(i.nominal == Approx(293.15));
  CHECK(i.tolerance.lower == Approx(288.15));
  CHECK(shape<sampling::Normal>(i).sd == Approx(5.0 / 3));
  CHECK(i.components[0].level == study::reading_level);
  CHECK(input(read(with_temperature("20 degC +/- 5 K")), "sensor.slot.temperature").tolerance.lower == Approx(288.15));
  CHECK(input(read(with_temperature("10 .. 30 degC")), "sensor.slot.temperature").tolerance.lower == Approx(283.15));
  CHECK_THAT(refusal(with_temperature("20 degC +/- 5 %")), Contains("where its scale begins"));
}

TEST_CASE("short forms are read as written, whatever the spacing") {
  const auto read_text = [](const char* text) { return std::get<specs::QuantityText>(specs::quantity_text(text)); };
  CHECK(read_text("  18   um   +/-  2 um   per   strip   lot ").level == "strip lot");
  CHECK(read_text("18um+/-2um").tolerance.value == 2.0);
  CHECK(read_text("3.93e-3 1/K").value->value == 3.93e-3);
  CHECK(read_text("-3 +1/-2 um").value->value == -3.0);
  CHECK(read_text("5.5 % of mass +/- 4 %").value->measured.dimension == specs::dimension::mass_share);
  CHECK(read_text("-5 .. -3 um").tolerance.value == -3.0);
  CHECK(std::holds_alternative<specs::TextFault>(specs::quantity_text("")));
  CHECK(std::holds_alternative<specs::TextFault>(specs::quantity_text(std::string(300, '1'))));
}
