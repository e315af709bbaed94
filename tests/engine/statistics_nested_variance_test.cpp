#include <catch2/catch.hpp>
#include <cmath>
#include <vector>

#include "engine/statistics/nested_variance.hpp"

using namespace mintspread::statistics;

TEST_CASE("components of batches and samples are the published ones") {
  // Dyestuff yields, 6 batches of 5 (O. L. Davies, Statistical Methods in Research and Production, 1947; as in the R
  // package lme4): mean squares 11271.50 and 2451.25, batch component 1764.05.
  const std::vector<std::vector<double>> yields{{1545, 1440, 1440, 1520, 1580}, {1540, 1555, 1490, 1560, 1495},
                                                {1595, 1550, 1605, 1510, 1560}, {1445, 1440, 1595, 1465, 1545},
                                                {1595, 1630, 1515, 1635, 1625}, {1520, 1455, 1450, 1480, 1445}};
  std::vector<std::vector<Moments>> batches;
  for (const auto& batch : yields) batches.emplace_back(1)[0].add(batch);
  const auto squares = mean_squares(batches);
  CHECK(squares.lots == Approx(11271.50).epsilon(1e-9));
  CHECK(squares.pieces == Approx(2451.25).epsilon(1e-9));
  CHECK(components(squares).between_lots == Approx(1764.05).epsilon(1e-9));
}

TEST_CASE("components of lots, wafers and sites follow from their mean squares") {
  // Oxide thickness, 8 lots x 3 wafers x 3 sites (R. C. Littell et al., SAS System for Mixed Models, 1996; data set
  // Oxide of the R package nlme): mean squares 1289.33, 120.17, 12.57; REML standard
  // deviations 11.397684, 5.988802, 3.545341 (computed with R). The mean squares carry two decimals.
  const auto found = components({1289.33, 120.17, 12.57, 3, 3});
  CHECK(std::sqrt(found.between_lots) == Approx(11.397684).epsilon(1e-4));
  CHECK(std::sqrt(found.between_loads) == Approx(5.988802).epsilon(5e-4));
  CHECK(std::sqrt(found.within_loads) == Approx(3.545341).epsilon(5e-4));
}

TEST_CASE("mean squares of a small nested table are those worked by hand") {
  // Two lots of two loads of two pieces: 1 3 | 5 7, 2 4 | 10 12. Load means 2 6 3 11, lot means 4 7, grand mean 5.5.
  // Pieces: 4 * 2 / 4 = 2. Loads: 2 (8 + 32) / 2 = 40. Lots: 4 (2.25 + 2.25) = 18.
  std::vector<std::vector<Moments>> lots(2, std::vector<Moments>(2));
  lots[0][0].add(std::vector{1.0, 3.0});
  lots[0][1].add(std::vector{5.0, 7.0});
  lots[1][0].add(std::vector{2.0, 4.0});
  lots[1][1].add(std::vector{10.0, 12.0});
  const auto squares = mean_squares(lots);
  CHECK(squares.pieces == Approx(2.0));
  CHECK(squares.loads == Approx(40.0));
  CHECK(squares.lots == Approx(18.0));
  const auto found = components(squares);
  CHECK(found.between_loads == Approx(19.0));
  CHECK(found.between_lots == Approx(-5.5));  // negative, and left so
}
