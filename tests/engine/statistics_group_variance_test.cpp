#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <string_view>
#include <vector>

#include "engine/statistics/group_variance.hpp"
#include "tests/reference/oxide.hpp"

using mintspread::statistics::NestedGroups;

namespace {

NestedGroups oxide() {
  NestedGroups groups(2);
  for (std::size_t i = 0; i < mintspread::test::oxide_thickness.size(); ++i) {
    const std::string lot = std::to_string(i / 9), wafer = std::to_string(i / 3 % 3);
    const std::string_view names[] = {lot, wafer};
    groups.add(names, mintspread::test::oxide_thickness[i]);
  }
  return groups;
}

}  // namespace

TEST_CASE("lots, wafers and sites of the oxide data have the published components") {
  // nlme's lme gives REML standard deviations 11.39768, 5.98880, 3.54534 (J. C. Pinheiro & D. M. Bates, Mixed-Effects
  // Models in S and S-PLUS, 2000, from memory; recomputed with R 4.2 to 11.397684, 5.988802, 3.545341). A
  // balanced design whose components are all positive has the same by analysis of variance. Mean squares 1289.33,
  // 120.17, 12.57 (R). Half a unit of the last digit each.
  const auto found = oxide().variances();
  REQUIRE(found.size() == 3);
  CHECK(found[0].mean_square == Approx(1289.33).margin(0.005));
  CHECK(found[1].mean_square == Approx(120.17).margin(0.005));
  CHECK(found[2].mean_square == Approx(12.57).margin(0.005));
  CHECK(found[0].freedom == 7);
  CHECK(found[1].freedom == 16);
  CHECK(found[2].freedom == 48);
  CHECK(std::sqrt(found[0].variance) == Approx(11.397684).margin(1e-5));
  CHECK(std::sqrt(found[1].variance) == Approx(5.988802).margin(1e-6));
  CHECK(std::sqrt(found[2].variance) == Approx(3.545341).margin(1e-6));
}

TEST_CASE("the uncertainty of a component is that of the difference of its mean squares") {
  // Oxide again: lots (1289.33 - 120.17) / 9 with 7 and 16 degrees of freedom, wafers (120.17 - 12.57) / 3 with 16
  // and 48.
  const auto found = oxide().variances();
  const auto difference = [&](std::size_t upper, double size) {
    const auto one = [](const auto& group) {
      return 2.0 * group.mean_square * group.mean_square / static_cast<double>(group.freedom);
    };
    return std::sqrt(one(found[upper]) + one(found[upper + 1])) / size;
  };
  CHECK(found[0].uncertainty == Approx(difference(0, 9.0)).epsilon(1e-10));
  CHECK(found[1].uncertainty == Approx(difference(1, 3.0)).epsilon(1e-10));
  CHECK(found[2].uncertainty == Approx(found[2].variance * std::sqrt(2.0 / 48.0)).epsilon(1e-10));
}

TEST_CASE("groups of unequal sizes are weighed as an analysis by hand does") {
  // One group: units of 1, 2 and 3 values. n0 = (N - SUM n^2 / N) / (a - 1) = (6 - 14 / 6) / 2 = 11 / 6. Means 1, 4, 6;
  // grand mean 27 / 6. Between: 12.25 + 0.5 + 6.75 = 19.5, over 2 is 9.75. Within: 2 + 2 = 4, over 3 is 4 / 3.
  NestedGroups groups(1);
  const struct {
    std::string_view unit;
    double value;
  } rows[] = {{"a", 1}, {"b", 3}, {"c", 5}, {"b", 5}, {"c", 6}, {"c", 7}};
  for (const auto& row : rows) groups.add(std::span(&row.unit, 1), row.value);
  const auto found = groups.variances();
  CHECK(found[0].mean_square == Approx(9.75));
  CHECK(found[0].part == Approx(11.0 / 6.0));
  CHECK(found[1].variance == Approx(4.0 / 3.0));
  CHECK(found[0].variance == Approx((9.75 - 4.0 / 3.0) / (11.0 / 6.0)));
}

TEST_CASE("expected mean squares of uneven nested groups are those of their design") {
  // Whatever the sizes, the estimates are unbiased: with data that carry one component alone, summed over all sign
  // patterns of that component, the others vanish. Lots {2, 3 loads}, loads of 1, 2, 3, 1, 2 values; component of
  // loads.
  const std::size_t sizes[] = {1, 2, 3, 1, 2};
  const char* const lots[] = {"A", "A", "B", "B", "B"};
  double lot = 0.0, load = 0.0, piece = 0.0;
  for (unsigned signs = 0; signs < 32; ++signs) {
    NestedGroups groups(2);
    for (std::size_t l = 0; l < 5; ++l)
      for (std::size_t i = 0; i < sizes[l]; ++i) {
        const std::string name(1, static_cast<char>('a' + l));
        const std::string_view names[] = {lots[l], name};
        groups.add(names, (signs >> l & 1) != 0 ? 3.0 : -3.0);
      }
    const auto found = groups.variances();
    lot += found[0].variance / 32.0, load += found[1].variance / 32.0, piece += found[2].variance / 32.0;
  }
  CHECK(piece == Approx(0.0).margin(1e-12));
  CHECK(load == Approx(9.0).epsilon(1e-12));
  CHECK(lot == Approx(0.0).margin(1e-12));
}

TEST_CASE("a negative component stays negative") {
  // Dyestuff2, made up by G. E. P. Box & G. C. Tiao, Bayesian Inference in Statistical Analysis, 1973, table 5.1.4:
  // mean squares 8.3363 and 14.9459 as in the R package lme4; with 5 a batch the component is their difference over 5.
  const std::vector<std::vector<double>> yields{
      {7.298, 3.846, 2.434, 9.566, 7.990}, {5.220, 6.556, 0.608, 11.788, -0.892}, {0.110, 10.386, 13.434, 5.510, 8.166},
      {2.212, 4.852, 7.092, 9.288, 4.980}, {0.282, 9.014, 4.458, 9.446, 7.198},   {1.722, 4.782, 8.106, 0.758, 3.758}};
  NestedGroups groups(1);
  for (std::size_t b = 0; b < yields.size(); ++b)
    for (double value : yields[b]) {
      const std::string name = std::to_string(b);
      const std::string_view view = name;
      groups.add(std::span(&view, 1), value);
    }
  const auto found = groups.variances();
  CHECK(found[0].mean_square == Approx(8.3363258).epsilon(1e-7));
  CHECK(found[1].mean_square == Approx(14.9458896).epsilon(1e-7));
  CHECK(found[0].variance == Approx((8.3363258 - 14.9458896) / 5).epsilon(1e-7));
}

TEST_CASE("a group with one unit in each outer unit is not told from it") {
  NestedGroups groups(2);
  for (const auto& [lot, value] : {std::pair<std::string_view, double>{"a", 1}, {"a", 2}, {"b", 4}, {"b", 5}}) {
    const std::string_view names[] = {lot, "only"};
    groups.add(names, value);
  }
  const auto found = groups.variances();
  CHECK(found[1].freedom == 0);
  CHECK(found[2].variance == Approx(0.5));
  CHECK(found[0].variance == Approx((9.0 - 0.5) / 2));
}
