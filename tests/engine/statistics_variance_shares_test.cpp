#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <random>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/sampling/sobol.hpp"
#include "engine/statistics/variance_shares.hpp"

using namespace mintspread;
using statistics::PickFreezeSums;

namespace {

constexpr std::size_t batches = 32;
constexpr std::size_t rows = 4096;

using Row = std::vector<double>;

/// Shares of the columns in `group` of a function of independent uniforms on (0, 1).
statistics::VarianceShare shares(std::size_t columns, const std::vector<std::size_t>& group,
                                 const std::function<double(const Row&)>& f) {
  std::mt19937_64 engine(20);
  std::uniform_real_distribution<double> uniform(0.0, 1.0);
  std::vector<PickFreezeSums> sums(batches);
  for (auto& batch : sums) {
    std::vector<double> a(rows), b(rows), ab(rows);
    for (std::size_t r = 0; r < rows; ++r) {
      Row from_a(columns), from_b(columns);
      for (double& x : from_a) x = uniform(engine);
      for (double& x : from_b) x = uniform(engine);
      a[r] = f(from_a);
      b[r] = f(from_b);
      for (const std::size_t c : group) from_a[c] = from_b[c];
      ab[r] = f(from_a);
    }
    batch.add(a, b, ab);
  }
  return statistics::variance_share(sums, 0.95);
}

/// The interval is 2.04 standard errors wide to either side (t, 31 degrees of freedom); 2.6 of those half-widths are
/// five standard errors.
void check_share(const statistics::ShareEstimate& estimate, double exact) {
  INFO("exact " << exact << ", found " << estimate.value << " in " << estimate.interval.lower << " .. "
                << estimate.interval.upper);
  const double half = 0.5 * (estimate.interval.upper - estimate.interval.lower);
  CHECK(std::abs(estimate.value - exact) <= 2.6 * half + 1e-12);
  CHECK(half < 0.03);
}

double ishigami(const Row& u) {
  const auto x = [&](std::size_t i) { return -pi + 2.0 * pi * u[i]; };
  return std::sin(x(0)) + 7.0 * std::pow(std::sin(x(1)), 2) + 0.1 * std::pow(x(2), 4) * std::sin(x(0));
}

double g_function(const Row& u, const std::vector<double>& a) {
  double product = 1.0;
  for (std::size_t i = 0; i < a.size(); ++i) product *= (std::abs(4.0 * u[i] - 2.0) + a[i]) / (1.0 + a[i]);
  return product;
}

}  // namespace

TEST_CASE("shares of the Ishigami function are its closed-form ones") {
  // Ishigami & Homma, ISUMA 1990, with a = 7, b = 0.1; closed forms evaluated.
  const double exact_first[] = {0.313905191147811, 0.442411144790041, 0.0};
  const double exact_total[] = {0.557588855209959, 0.442411144790041, 0.243683664062148};
  for (std::size_t i = 0; i < 3; ++i) {
    const auto found = shares(3, {i}, ishigami);
    check_share(found.first_order, exact_first[i]);
    check_share(found.total, exact_total[i]);
  }
}

TEST_CASE("a group's share is the closed-form one of the g-function") {
  // Sobol' g-function, a = (0, 1, 4.5, 9, 99, 99, 99, 99); group of the first two inputs, closed form evaluated.
  const std::vector<double> a{0, 1, 4.5, 9, 99, 99, 99, 99};
  const auto f = [&](const Row& u) { return g_function(u, a); };
  const auto group = shares(8, {0, 1}, f);
  check_share(group.first_order, 0.954922891839);
  check_share(group.total, 0.968792771273);
  const auto first = shares(8, {0}, f);
  check_share(first.first_order, 0.7161921689);
  check_share(first.total, 0.7871441267);
}

TEST_CASE("shares of a nearly additive function are its closed-form ones") {
  // Sobol' g-function, a = (0, 9, 99), closed form evaluated.
  const auto f = [](const Row& u) { return g_function(u, {0, 9, 99}); };
  const auto first = shares(3, {0}, f);
  check_share(first.first_order, 0.986711842);
  check_share(first.total, 0.9900338815);
  check_share(shares(3, {1}, f).total, 0.01315659643);
}

TEST_CASE("scrambled Sobol' points tell shares several times better than plain draws, with honest intervals") {
  // Replicates are the batches: rows of one replicate are not independent of each other. Columns 0 to 2 are A, 3 to 5
  // B.
  constexpr std::size_t points_each = 1024;
  const sampling::SobolPoints points(6);
  std::vector<PickFreezeSums> sums(batches);
  for (std::size_t r = 0; r < batches; ++r) {
    std::vector<std::vector<double>> u(6, std::vector<double>(points_each));
    for (std::size_t d = 0; d < 6; ++d) points.uniforms(6 * r + d, d, 0, u[d]);
    std::vector<double> a, b, ab;
    for (std::size_t i = 0; i < points_each; ++i) {
      a.push_back(ishigami({u[0][i], u[1][i], u[2][i]}));
      b.push_back(ishigami({u[3][i], u[4][i], u[5][i]}));
      ab.push_back(ishigami({u[3][i], u[1][i], u[2][i]}));
    }
    sums[r].add(a, b, ab);
  }
  const auto found = statistics::variance_share(sums, 0.95);
  check_share(found.first_order, 0.313905191147811);
  check_share(found.total, 0.557588855209959);
  // A quarter of the rows of plain draws, and still less than half their interval: sixteen times better a row.
  const auto plain = shares(3, {0}, ishigami);
  const auto width = [](const auto& share) { return share.total.interval.upper - share.total.interval.lower; };
  INFO("Sobol' " << width(found) << ", plain " << width(plain));
  CHECK(2.0 * width(found) < width(plain));
}

TEST_CASE("small shares are told with small errors, and intervals hold the closed form as often as they say") {
  // Sobol' g-function, a = (0, 1, 4.5, 9): closed form V_i = 1 / (3 (1 + a_i)^2), V = prod (1 + V_i) - 1, S_i = V_i /
  // V.
  const std::vector<double> a{0, 1, 4.5, 9};
  std::vector<double> part;
  double variance = 1.0;
  for (const double one : a) {
    part.push_back(1.0 / (3.0 * (1.0 + one) * (1.0 + one)));
    variance *= 1.0 + part.back();
  }
  variance -= 1.0;
  constexpr std::size_t points_each = 512, replicates = 16;
  constexpr int seeds = 200;
  const sampling::SobolPoints points(8);
  for (const std::size_t i : {std::size_t{0}, std::size_t{3}}) {
    std::size_t held = 0;
    double half = 0.0;
    for (std::uint64_t seed = 0; seed < seeds; ++seed) {
      std::vector<PickFreezeSums> sums(replicates);
      for (std::size_t r = 0; r < replicates; ++r) {
        std::vector<std::vector<double>> u(8, std::vector<double>(points_each));
        for (std::size_t d = 0; d < 8; ++d) points.uniforms(8 * (replicates * seed + r) + d, d, 0, u[d]);
        std::vector<double> from_a, from_b, mixed;
        for (std::size_t p = 0; p < points_each; ++p) {
          Row row_a, row_b;
          for (std::size_t d = 0; d < 4; ++d) {
            row_a.push_back(u[d][p]);
            row_b.push_back(u[4 + d][p]);
          }
          from_a.push_back(g_function(row_a, a));
          from_b.push_back(g_function(row_b, a));
          row_a[i] = row_b[i];
          mixed.push_back(g_function(row_a, a));
        }
        sums[r].add(from_a, from_b, mixed);
      }
      const auto found = statistics::variance_share(sums, 0.95).first_order;
      held += found.interval.lower <= part[i] / variance && part[i] / variance <= found.interval.upper ? 1U : 0U;
      half += 0.5 * (found.interval.upper - found.interval.lower) / seeds;
    }
    INFO("a = " << a[i] << ": held " << held << " times, half-width " << half);
    CHECK(held >= 175);               // 4.9 standard errors below 95 %
    if (i == 3) CHECK(half < 0.002);  // 1 - S alone would be known to some 0.01
  }
}

TEST_CASE("interaction without first-order part is told apart") {
  // x1 x2 + x3 on (0, 1): V = 19/144, first order 3/19, 3/19, 12/19, total 4/19, 4/19, 12/19 (exact).
  const auto f = [](const Row& u) { return u[0] * u[1] + u[2]; };
  const auto found = shares(3, {0}, f);
  check_share(found.first_order, 3.0 / 19.0);
  check_share(found.total, 4.0 / 19.0);
  check_share(shares(3, {2}, f).total, 12.0 / 19.0);
}

TEST_CASE("shares of an output without variance are zero, and rows without a value are left out") {
  std::vector<PickFreezeSums> flat(2);
  for (auto& batch : flat) batch.add(std::array{2.0, 2.0}, std::array{2.0, 2.0}, std::array{2.0, 2.0});
  CHECK(statistics::variance_share(flat, 0.95).total.value == 0.0);
  PickFreezeSums gaps;
  gaps.add(std::array{1.0, std::nan("")}, std::array{2.0, 3.0}, std::array{1.5, 2.5});
  CHECK(gaps.rows() == 1);
}
