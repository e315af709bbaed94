#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/sampling/draws.hpp"
#include "engine/sampling/normal_score.hpp"
#include "engine/sampling/rank_correlation.hpp"

using namespace mintspread::sampling;

namespace {

RankCorrelation possible(std::size_t size, const std::vector<RankPair>& pairs) {
  auto made = RankCorrelation::make(size, pairs);
  REQUIRE(std::holds_alternative<RankCorrelation>(made));
  return std::get<RankCorrelation>(std::move(made));
}

IndefiniteCorrelation impossible(std::size_t size, const std::vector<RankPair>& pairs) {
  auto made = RankCorrelation::make(size, pairs);
  REQUIRE(std::holds_alternative<IndefiniteCorrelation>(made));
  return std::get<IndefiniteCorrelation>(std::move(made));
}

// Applied to unit vectors the transform shows its factor: lane j of quantity i is L(i, j).
std::vector<std::vector<double>> factor(const RankCorrelation& correlation) {
  std::vector<std::vector<double>> rows(correlation.size(), std::vector<double>(correlation.size(), 0.0));
  std::vector<std::span<double>> spans;
  for (std::size_t i = 0; i < rows.size(); ++i) {
    rows[i][i] = 1.0;
    spans.push_back(rows[i]);
  }
  correlation.apply(spans);
  return rows;
}

std::vector<double> ranks(const std::vector<double>& values) {
  std::vector<std::size_t> order(values.size());
  std::iota(order.begin(), order.end(), 0u);
  std::sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
  std::vector<double> rank(values.size());
  for (std::size_t i = 0; i < order.size(); ++i) rank[order[i]] = double(i);
  return rank;
}

double correlation_of(const std::vector<double>& a, const std::vector<double>& b) {
  const double n = double(a.size());
  const double ma = std::accumulate(a.begin(), a.end(), 0.0) / n, mb = std::accumulate(b.begin(), b.end(), 0.0) / n;
  double ab = 0.0, aa = 0.0, bb = 0.0;
  for (std::size_t i = 0; i < a.size(); ++i) {
    ab += (a[i] - ma) * (b[i] - mb);
    aa += (a[i] - ma) * (a[i] - ma);
    bb += (b[i] - mb) * (b[i] - mb);
  }
  return ab / std::sqrt(aa * bb);
}

}  // namespace

TEST_CASE("a rank correlation becomes the normal-score correlation 2 sin(pi rho / 6)") {
  // Spearman's rho of a bivariate normal with r = 0.5 is (6 / pi) asin(r / 2) = 0.482583739531 (closed form, Pearson
  // 1907).
  const auto rows = factor(possible(2, {{0, 1, 0.482583739531}}));
  CHECK(rows[1][0] == Approx(0.5).epsilon(1e-11));
  CHECK(rows[1][1] == Approx(std::sqrt(0.75)).epsilon(1e-11));
  CHECK(rows[0][0] == 1.0);
  CHECK(rows[0][1] == 0.0);
}

TEST_CASE("the correlated scores of many quantities have the stated matrix and unit variance") {
  const std::vector<RankPair> pairs{{0, 2, 0.5}, {1, 3, -0.7}, {2, 3, 0.3}, {4, 0, -0.2}};
  const auto rows = factor(possible(5, pairs));
  for (std::size_t i = 0; i < 5; ++i) {
    for (std::size_t j = 0; j <= i; ++j) {
      double rank = i == j ? 1.0 : 0.0;
      for (const auto& pair : pairs)
        if ((pair.first == i && pair.second == j) || (pair.first == j && pair.second == i)) rank = pair.rank;
      const double expected = i == j ? 1.0 : 2.0 * std::sin(3.14159265358979323846 * rank / 6.0);
      CHECK(std::inner_product(rows[i].begin(), rows[i].end(), rows[j].begin(), 0.0) == Approx(expected).margin(1e-14));
    }
  }
  // Quantities without an earlier partner keep their own draw.
  CHECK(rows[1] == std::vector<double>{0.0, 1.0, 0.0, 0.0, 0.0});
}

TEST_CASE("drawn ranks correlate as stated") {
  const std::size_t n = 200000;
  std::vector<double> a(n), b(n);
  uniforms(21, 1, 0, 0, a);
  uniforms(21, 2, 0, 0, b);
  normal_scores(a, a);
  normal_scores(b, b);
  const std::vector<std::span<double>> scores{a, b};
  possible(2, {{0, 1, -0.6}}).apply(scores);
  // The standard error of Spearman's coefficient is below 1 / sqrt n; 4.9 of them are a false-alarm rate below 1e-6.
  const double bound = 4.9 / std::sqrt(double(n));
  CHECK(std::abs(correlation_of(ranks(a), ranks(b)) + 0.6) < bound);
  CHECK(std::abs(correlation_of(ranks(a), ranks(b)) + 0.58) > bound);  // a wrong coefficient is caught
}

TEST_CASE("correlations that contradict each other are named, with the smallest set and what would be possible") {
  // The third pair contradicts the first two; quantities 0 and 4 have nothing to do with it.
  const auto failure = impossible(5, {{0, 1, 0.3}, {1, 2, 0.9}, {2, 3, 0.9}, {1, 3, -0.9}, {0, 4, 0.2}});
  CHECK(failure.members == std::vector<std::size_t>{1, 2, 3});
  REQUIRE(failure.stated.size() == 3);
  CHECK(failure.stated[0].rank == 0.9);
  CHECK(failure.smallest_eigenvalue < 0.0);
  // Three quantities with correlations r, r, -r have the smallest eigenvalue 1 - 2 r.
  const auto three = impossible(3, {{0, 1, 0.9}, {1, 2, 0.9}, {0, 2, -0.9}});
  const double r = 2.0 * std::sin(0.15 * 3.14159265358979323846);
  CHECK(three.smallest_eigenvalue == Approx(1.0 - 2.0 * r).epsilon(1e-12));
  CHECK(std::holds_alternative<RankCorrelation>(RankCorrelation::make(3, three.possible)));
  CHECK(three.possible[0].rank > 0.45);

  const std::vector<std::string> names{"a", "b", "c"};
  CHECK(three.describe(names) ==
        "the rank correlations contradict each other (a with b: 0.9, b with c: 0.9, a with c: -0.9): no quantities can "
        "vary "
        "like this (smallest eigenvalue of their correlation matrix -0.816, must be above 0)");
  // What is not stated counts as 0, which two strong correlations do not allow; with it stated they are possible.
  const auto two = impossible(3, {{0, 1, 0.9}, {1, 2, 0.9}});
  CHECK(two.describe(names).ends_with("must be above 0; not stated: a with c: 0)"));
  CHECK(two.remedy(names).ends_with("), or state what is left out."));
  possible(3, {{0, 1, 0.9}, {1, 2, 0.9}, {0, 2, 0.8}});
  CHECK(three.remedy(names).starts_with("Bring them nearer to zero (possible would be a with b: 0.4"));
}

TEST_CASE("no pairs, no quantities and misuse") {
  CHECK(possible(0, {}).size() == 0);
  const auto rows = factor(possible(2, {}));
  CHECK(rows[1] == std::vector<double>{0.0, 1.0});
  CHECK_THROWS_AS(RankCorrelation::make(2, {{0, 0, 0.5}}), mintspread::ContractBroken);
  CHECK_THROWS_AS(RankCorrelation::make(2, {{0, 2, 0.5}}), mintspread::ContractBroken);
  CHECK_THROWS_AS(RankCorrelation::make(2, {{0, 1, 1.0}}), mintspread::ContractBroken);
  CHECK_THROWS_AS(RankCorrelation::make(2, {{0, 1, 0.5}, {1, 0, 0.4}}), mintspread::ContractBroken);
}
