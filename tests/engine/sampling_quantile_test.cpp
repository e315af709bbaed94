#include <array>
#include <boost/math/distributions/lognormal.hpp>
#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/distributions/triangular.hpp>
#include <boost/math/distributions/uniform.hpp>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>
#include <memory>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/sampling/draws.hpp"
#include "engine/sampling/normal_score.hpp"
#include "engine/sampling/quantile.hpp"

using namespace mintspread::sampling;

namespace {

double at_uniform(const Quantile& quantile, double u) {
  double value;
  quantile.from_uniform({&u, 1}, {&value, 1});
  return value;
}

double at_score(const Quantile& quantile, double z) {
  double value;
  quantile.from_normal_score({&z, 1}, {&value, 1});
  return value;
}

std::shared_ptr<const Mixture> mixture(std::vector<Mixture::Part> parts) {
  return std::make_shared<const Mixture>(Mixture{std::move(parts)});
}

Shape cut(const Shape& shape, Support kept) {
  return std::make_shared<const Truncated>(Truncated{shape, kept.lower, kept.upper});
}

// One shape of every kind, with the odd corners: disjoint parts, a single value inside a mixture, ties in data.
std::vector<Shape> all_shapes() {
  return {Normal{2.0},
          TruncatedNormal{1.0, -1.0, 2.0},
          TruncatedNormal{1.0, 3.0, 5.0},
          TwoPieceNormal{1.0, 3.0},
          TwoPieceNormal{0.0, 1.0},
          Lognormal{2.0, 0.3},
          Uniform{-1.0, 3.0},
          Triangular{-1.0, 0.0, 3.0},
          Triangular{0.0, 0.0, 1.0},
          Arcsine{-2.0, 1.0},
          StudentT{1.5, 3.0},
          StudentT{1.0, 18.0},
          CurvilinearTrapezoid{1.0, 0.5},
          CurvilinearTrapezoid{0.05, 0.045},
          CurvilinearTrapezoid{1.0, 0.0},
          Measured{{-3.0, -1.0, -1.0, 0.5, 2.0}, 0.0},
          Measured{{-3.0, -1.0, -1.0, 0.5, 2.0}, 0.4},
          Measured{{-3.0, -1.0, -1.0, 0.5, 2.0}, 0.02},
          mixture({{0.7, 0.0, Normal{1.0}}, {0.3, 4.0, Normal{0.5}}}),
          mixture({{0.5, 0.0, Uniform{0.0, 1.0}}, {0.5, 0.0, Uniform{3.0, 4.0}}}),
          mixture({{0.2, 1.0, Normal{0.0}}, {0.8, 0.0, Normal{2.0}}}),
          mixture({{0.4, 0.0, TruncatedNormal{1.0, -1.0, 1.0}}, {0.6, 0.0, StudentT{1.0, 12.0}}}),
          cut(StudentT{1.0, 2.0}, {-3.0, 4.0}),
          cut(mixture({{0.7, 0.0, Normal{1.0}}, {0.3, 4.0, Normal{0.5}}}), {-1.0, 4.5})};
}

}  // namespace

TEST_CASE("quantiles agree with Boost.Math in both tails") {
  const auto compare = [](const Shape& shape, auto boost_law, double offset, double tolerance) {
    const Quantile prepared(shape);
    for (double z : {-8.2, -6.0, -4.5, -3.0, -1.7, -0.3, 0.0, 0.4, 1.2, 2.9, 5.5, 8.2}) {
      const double tail = normal_cdf(-std::abs(z));
      const double expected = (z < 0 ? quantile(boost_law, tail) : quantile(complement(boost_law, tail))) + offset;
      INFO("shape " << shape.index() << ", z " << z);
      CHECK(at_score(prepared, z) == Approx(expected).epsilon(tolerance).margin(1e-13));
      if (z <= 0) CHECK(at_uniform(prepared, tail) == Approx(expected).epsilon(tolerance).margin(1e-13));
    }
    CHECK(prepared.mean() == Approx(mean(boost_law) + offset).margin(1e-14));
    CHECK(prepared.sd() == Approx(standard_deviation(boost_law)).epsilon(1e-13));
  };
  namespace bm = boost::math;
  compare(Normal{2.5}, bm::normal(0.0, 2.5), 0.0, 1e-14);
  compare(Uniform{-1.0, 3.0}, bm::uniform_distribution<>(-1.0, 3.0), 0.0, 1e-14);
  compare(Triangular{-1.0, 0.5, 3.0}, bm::triangular(-1.0, 0.5, 3.0), 0.0, 1e-13);
  compare(Lognormal{2.0, 0.3}, bm::lognormal(std::log(2.0), 0.3), -2.0, 1e-13);
  // The table is good to 1e-11 in the tail probability.
  compare(StudentT{1.0, 3.0}, bm::students_t(3.0), 0.0, 1e-11);
  compare(StudentT{1.0, 18.0}, bm::students_t(18.0), 0.0, 1e-11);
}

TEST_CASE("moments agree with closed forms") {
  SECTION("arcsine: x = centre - half-width cos(pi u), sd half-width / sqrt 2 (JCGM 101:2008, 6.4.6)") {
    const Quantile shape(Arcsine{-2.0, 1.0});
    CHECK(shape.mean() == -0.5);
    CHECK(shape.sd() == Approx(1.5 / std::sqrt(2.0)).epsilon(1e-15));
    for (double u : {0.1, 0.3, 0.5, 0.9})
      CHECK(at_uniform(shape, u) ==
            Approx(-0.5 - 1.5 * std::cos(3.14159265358979323846 * u)).epsilon(1e-14).margin(1e-15));
  }
  SECTION("truncated normal: sd of N(0,1) on symmetric limits, closed form evaluated with mpmath") {
    CHECK(Quantile(TruncatedNormal{1.0, -1.0, 1.0}).sd() == Approx(.539560093755).epsilon(1e-11));
    CHECK(Quantile(TruncatedNormal{1.0, -2.0, 2.0}).sd() == Approx(.879625661034).epsilon(1e-11));
    CHECK(Quantile(TruncatedNormal{1.0, -3.0, 3.0}).sd() == Approx(.986578392558).epsilon(1e-11));
    CHECK(Quantile(TruncatedNormal{1.0, -1.0, 2.0}).mean() == Approx(.229637179091).epsilon(1e-11));
    CHECK(Quantile(TruncatedNormal{1.0, -1.0, 2.0}).sd() == Approx(.720945586859).epsilon(1e-11));
    CHECK(kept_fraction(Normal{1.0}, {-1.0, 2.0}) == Approx(.818594614120).epsilon(1e-11));
    // Far out: mean of the tail beyond 8 is phi(8) / Phi(-8).
    const double tail = std::exp(-32.0) / std::sqrt(2.0 * 3.14159265358979323846) / normal_cdf(-8.0);
    CHECK(Quantile(TruncatedNormal{1.0, 8.0, 40.0}).mean() == Approx(tail).epsilon(1e-4));
  }
  SECTION("lognormal: exp(N(.1, .2)), closed form") {
    const Quantile shape(Lognormal{std::exp(0.1), 0.2});
    CHECK(shape.mean() + std::exp(0.1) == Approx(1.127496851579).epsilon(1e-12));
    CHECK(shape.sd() * shape.sd() == Approx(.051880662016).epsilon(1e-10));
  }
  SECTION("curvilinear trapezoid: variance (b-a)^2/12 + d^2/9, JCGM 101:2008, 6.4.3") {
    CHECK(Quantile(CurvilinearTrapezoid{1.0, 0.5}).sd() == Approx(0.6009252125773316).epsilon(1e-14));
  }
  SECTION("two halves of a normal distribution") {
    // Mean sqrt(2/pi)(s2 - s1); variance (1 - 2/pi)(s2 - s1)^2 + s1 s2 (John 1982, from memory).
    CHECK(Quantile(TwoPieceNormal{1.0, 3.0}).mean() == Approx(1.5957691216057308).epsilon(1e-14));
    CHECK(Quantile(TwoPieceNormal{1.0, 3.0}).sd() ==
          Approx(std::sqrt((1 - 0.6366197723675814) * 4 + 3)).epsilon(1e-14));
    CHECK(at_uniform(Quantile(TwoPieceNormal{1.0, 3.0}), 0.25) == Approx(0.0).margin(1e-15));
  }
  SECTION("a mixture: between and within") {
    const Quantile shape(mixture({{0.7, 0.0, Normal{1.0}}, {0.3, 4.0, Normal{0.5}}}));
    CHECK(shape.mean() == Approx(1.2).epsilon(1e-14));
    CHECK(shape.sd() == Approx(std::sqrt(0.7 * (1 + 1.44) + 0.3 * (0.25 + 7.84))).epsilon(1e-14));
  }
}

TEST_CASE("every shape: the stated moments are those of its quantile function") {
  for (const Shape& shape : all_shapes()) {
    const Quantile quantile(shape);
    // Midpoint rule over the probability. The variance beyond its end points is missed: about n^(2/nu - 1) of it for
    // Student t.
    const std::size_t n = 1u << 20;
    std::vector<double> u(n), x(n);
    for (std::size_t i = 0; i < n; ++i) u[i] = (double(i) + 0.5) / double(n);
    quantile.from_uniform(u, x);
    double sum = 0.0, squares = 0.0;
    for (double value : x) sum += value;
    const double mean = sum / double(n);
    for (double value : x) squares += (value - mean) * (value - mean);
    INFO("shape " << shape.index());
    const bool heavy = std::holds_alternative<StudentT>(shape) && std::get<StudentT>(shape).degrees_of_freedom < 4;
    CHECK(mean == Approx(quantile.mean()).margin(1e-5 * quantile.sd()));
    CHECK(std::sqrt(squares / double(n)) == Approx(quantile.sd()).epsilon(heavy ? 1e-2 : 2e-5));
    CHECK(std::is_sorted(x.begin(), x.end()));
    CHECK(x.front() >= quantile.support().lower);
    CHECK(x.back() <= quantile.support().upper);
  }
}

TEST_CASE("every shape: uniforms and normal scores lead to the same values, in place and in any length") {
  std::vector<double> u(1003), z(u.size());
  uniforms(11, 3, 0, 0, u);
  u[0] = 0x1p-53;
  u[1] = 1.0 - 0x1p-53;
  normal_scores(u, z);
  for (const Shape& shape : all_shapes()) {
    const Quantile quantile(shape);
    std::vector<double> a(u.size()), b(u.size()), in_place(u), part(u.size());
    quantile.from_uniform(u, a);
    quantile.from_normal_score(z, b);
    quantile.from_uniform(in_place, in_place);
    quantile.from_uniform(std::span(u).first(400), std::span(part).first(400));
    quantile.from_uniform(std::span(u).subspan(400), std::span(part).subspan(400));
    INFO("shape " << shape.index());
    CHECK(in_place == a);
    CHECK(part == a);
    bool close = true;
    // Rounding of the probability, 1e-16, moves a value of a heavy tail by far more than its last digit.
    for (std::size_t i = 2; i < u.size(); ++i)
      close = close && std::abs(a[i] - b[i]) <= 1e-9 * (std::abs(a[i]) + quantile.sd());
    CHECK(close);
  }
}

TEST_CASE("every shape: a perfect gauge leaves what lies between its limits, in the right proportions") {
  for (const Shape& shape : all_shapes()) {
    const Quantile whole(shape);
    // Limits at the 13 % and 63 % quantile; the shape within them at u is the whole shape at 0.13 + 0.5 u.
    const Support kept{at_uniform(whole, 0.13), at_uniform(whole, 0.63)};
    INFO("shape " << shape.index() << " kept " << kept.lower << " " << kept.upper);
    const double fraction = kept_fraction(shape, kept);
    CHECK(fraction >= 0.5 - 1e-9);  // more where single values have a probability
    const Quantile inside(cut(shape, kept));
    double below = 0.13;
    if (fraction > 0.5 + 1e-9) below = 1.0 - fraction - (1.0 - kept_fraction(shape, {-1e9, kept.upper}));
    for (double u : {1e-9, 0.2, 0.5, 0.77, 1.0 - 1e-9}) {
      CHECK(at_uniform(inside, u) == Approx(at_uniform(whole, below + fraction * u)).epsilon(1e-8).margin(1e-8));
      CHECK(at_uniform(inside, u) >= kept.lower);
      CHECK(at_uniform(inside, u) <= kept.upper);
    }
  }
}

TEST_CASE("a gauge far out in a tail still works, and one that leaves nothing is a broken contract") {
  const Quantile far(cut(Normal{1.0}, {7.0, 9.0}));
  // P(X > x | 7 < X < 9) = 1/2, solved with the normal tail function itself.
  const double median = at_uniform(far, 0.5);
  CHECK(normal_cdf(-median) == Approx(0.5 * (normal_cdf(-7.0) + normal_cdf(-9.0))).epsilon(1e-13));
  CHECK(kept_fraction(Uniform{0.0, 1.0}, {2.0, 3.0}) == 0.0);
  CHECK(flaw_of(cut(Uniform{0.0, 1.0}, {2.0, 3.0})) == "nothing of the distribution lies within the limits");
  CHECK_THROWS_AS(Quantile(cut(Uniform{0.0, 1.0}, {2.0, 3.0})), mintspread::ContractBroken);
  CHECK(flaw_of(TruncatedNormal{1.0, 50.0, 60.0}) == "nothing of the distribution lies within the limits");
}

TEST_CASE("curvilinear trapezoid quantiles undo its distribution function") {
  // P(X > x) as an average over the half-width, by the midpoint rule; JCGM 101:2008, 6.4.3.
  const double half_width = 1.0, edge = 0.5;
  const Quantile quantile(CurvilinearTrapezoid{half_width, edge});
  for (double u : {0.6, 0.9, 0.97, 0.999}) {
    const double x = at_uniform(quantile, u);
    double sum = 0.0;
    const int n = 200000;
    for (int k = 0; k < n; ++k) {
      const double w = half_width + edge * (2.0 * (k + 0.5) / n - 1.0);
      sum += x >= w ? 0.0 : 0.5 * (1.0 - x / w);
    }
    CHECK(sum / n == Approx(1.0 - u).epsilon(1e-5));
  }
}

TEST_CASE("measured data without smoothing is interpolated linearly between order statistics") {
  const Quantile quantile(Measured{{1.0, 2.0, 4.0, 8.0}, 0.0});
  CHECK(at_uniform(quantile, 1.0 / 6) == Approx(1.5));
  CHECK(at_uniform(quantile, 0.5) == Approx(3.0));
  CHECK(at_uniform(quantile, 5.0 / 6) == Approx(6.0));
  CHECK(quantile.mean() == Approx((1.5 + 3.0 + 6.0) / 3));
}

TEST_CASE("a shape without spread is one value") {
  for (const Shape& shape : std::vector<Shape>{Normal{0.0}, Uniform{0.0, 0.0}, Triangular{0.0, 0.0, 0.0},
                                               TwoPieceNormal{0.0, 0.0}, Measured{{0.0}, 0.0}, StudentT{0.0, 5.0}}) {
    const Quantile quantile(shape);
    CHECK(at_uniform(quantile, 0.3) == 0.0);
    CHECK(quantile.sd() == 0.0);
    CHECK(kept_fraction(shape, {-1.0, 0.0}) == 1.0);
    CHECK(kept_fraction(shape, {0.1, 1.0}) == 0.0);
  }
}

TEST_CASE("shapes that are no distributions are told why") {
  CHECK(flaw_of(Normal{-1.0}) == "a standard deviation must not be negative");
  CHECK(flaw_of(Normal{std::nan("")}) == "every parameter must be a finite number");
  CHECK(flaw_of(Uniform{1.0, 0.0}) == "the lower end must not lie above the upper end");
  CHECK(flaw_of(Triangular{0.0, 2.0, 1.0}) == "the mode must lie between the lower and the upper end");
  CHECK(flaw_of(Lognormal{0.0, 0.1}) == "the median of a lognormal distribution must be positive");
  CHECK(flaw_of(CurvilinearTrapezoid{1.0, 1.0}) == "the edge must not be negative and must be below the half-width");
  CHECK(flaw_of(Measured{{}, 0.0}) == "measured data needs at least one value");
  CHECK(flaw_of(Measured{{2.0, 1.0}, 0.0}) == "measured values must be handed over in ascending order");
  CHECK(flaw_of(mixture({{0.5, 0.0, Normal{1.0}}})) == "the weights of a mixture must sum to 1");
  CHECK(flaw_of(mixture({{1.0, 0.0, Normal{-1.0}}})) == "a standard deviation must not be negative");
  for (const Shape& shape : all_shapes()) CHECK(flaw_of(shape).empty());
  CHECK_THROWS_AS(Quantile(Normal{-1.0}), mintspread::ContractBroken);
}
