#include "engine/sampling/law.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/sampling/composite_law.hpp"
#include "engine/sampling/normal_score.hpp"

namespace mintspread::sampling {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

double score_of(TwoSided p) { return p.lower <= p.upper ? normal_score(p.lower) : -normal_score(p.upper); }

class PointLaw final : public Law {
 public:
  explicit PointLaw(double value) : value_(value) {}
  double below(double x) const override { return x > value_ ? 1.0 : 0.0; }
  double above(double x) const override { return x < value_ ? 1.0 : 0.0; }
  double up_to(double x) const override { return x >= value_ ? 1.0 : 0.0; }
  double from(double x) const override { return x <= value_ ? 1.0 : 0.0; }
  double quantile(TwoSided) const override { return value_; }
  double mean() const override { return value_; }
  double sd() const override { return 0.0; }
  Support support() const override { return {value_, value_}; }
  std::vector<double> joints() const override { return {value_}; }

 private:
  double value_;
};

class NormalLaw final : public Law {
 public:
  explicit NormalLaw(double sd) : sd_(sd) {}
  double below(double x) const override { return normal_cdf(x / sd_); }
  double above(double x) const override { return normal_cdf(-x / sd_); }
  double quantile(TwoSided p) const override { return sd_ * score_of(p); }
  double mean() const override { return 0.0; }
  double sd() const override { return sd_; }
  Support support() const override { return {}; }

 private:
  double sd_;
};

// Equal density at zero leaves the probability sd_below / (sd_below + sd_above) below it.
class TwoPieceNormalLaw final : public Law {
 public:
  explicit TwoPieceNormalLaw(const TwoPieceNormal& s) : s_(s), share_(s.sd_below / (s.sd_below + s.sd_above)) {}
  double below(double x) const override {
    if (x >= 0.0) return 1.0 - above(x);
    return s_.sd_below == 0.0 ? 0.0 : 2.0 * share_ * normal_cdf(x / s_.sd_below);
  }
  double above(double x) const override {
    if (x < 0.0) return 1.0 - below(x);
    return s_.sd_above == 0.0 ? 0.0 : 2.0 * (1.0 - share_) * normal_cdf(-x / s_.sd_above);
  }
  double quantile(TwoSided p) const override {
    if (p.lower < share_) return s_.sd_below * normal_score(0.5 * p.lower / share_);
    return -s_.sd_above * normal_score(0.5 * p.upper / (1.0 - share_));
  }
  double mean() const override { return std::sqrt(2.0 / pi) * (s_.sd_above - s_.sd_below); }
  double sd() const override {
    const double d = s_.sd_above - s_.sd_below;
    return std::sqrt((1.0 - 2.0 / pi) * d * d + s_.sd_below * s_.sd_above);
  }
  Support support() const override {
    return {s_.sd_below == 0.0 ? 0.0 : -infinity, s_.sd_above == 0.0 ? 0.0 : infinity};
  }
  std::vector<double> joints() const override { return {0.0}; }

 private:
  TwoPieceNormal s_;
  double share_;
};

class LognormalLaw final : public Law {
 public:
  explicit LognormalLaw(const Lognormal& s) : s_(s) {}
  double below(double x) const override { return x <= -s_.scale ? 0.0 : normal_cdf(score(x)); }
  double above(double x) const override { return x <= -s_.scale ? 1.0 : normal_cdf(-score(x)); }
  double quantile(TwoSided p) const override { return s_.scale * std::expm1(s_.log_sd * score_of(p)); }
  double mean() const override { return s_.scale * std::expm1(0.5 * s_.log_sd * s_.log_sd); }
  double sd() const override {
    const double v = s_.log_sd * s_.log_sd;
    return s_.scale * std::exp(0.5 * v) * std::sqrt(std::expm1(v));
  }
  Support support() const override { return {-s_.scale, infinity}; }

 private:
  double score(double x) const { return std::log1p(x / s_.scale) / s_.log_sd; }
  Lognormal s_;
};

class TriangularLaw final : public Law {
 public:
  explicit TriangularLaw(const Triangular& s) : s_(s), share_((s.mode - s.lower) / (s.upper - s.lower)) {}
  double below(double x) const override {
    if (x <= s_.lower) return 0.0;
    if (x >= s_.upper) return 1.0;
    if (x > s_.mode) return 1.0 - above(x);
    return (x - s_.lower) / (s_.upper - s_.lower) * ((x - s_.lower) / (s_.mode - s_.lower));
  }
  double above(double x) const override {
    if (x <= s_.lower) return 1.0;
    if (x >= s_.upper) return 0.0;
    if (x <= s_.mode) return 1.0 - below(x);
    return (s_.upper - x) / (s_.upper - s_.lower) * ((s_.upper - x) / (s_.upper - s_.mode));
  }
  double quantile(TwoSided p) const override {
    const double width = s_.upper - s_.lower;
    return p.lower < share_ ? s_.lower + std::sqrt(p.lower * width * (s_.mode - s_.lower))
                            : s_.upper - std::sqrt(p.upper * width * (s_.upper - s_.mode));
  }
  double mean() const override { return (s_.lower + s_.mode + s_.upper) / 3.0; }
  double sd() const override {
    const double left = s_.mode - s_.lower, right = s_.upper - s_.mode;
    return std::sqrt((left * left + left * right + right * right) / 18.0);
  }
  Support support() const override { return {s_.lower, s_.upper}; }
  std::vector<double> joints() const override { return {s_.lower, s_.mode, s_.upper}; }

 private:
  Triangular s_;
  double share_;
};

class ArcsineLaw final : public Law {
 public:
  explicit ArcsineLaw(const Arcsine& s) : s_(s) {}
  // F = (2/pi) arcsin sqrt((x - lower) / (upper - lower)); from the nearer end, where it keeps its digits.
  double below(double x) const override { return x <= s_.lower ? 0.0 : x >= s_.upper ? 1.0 : part(x - s_.lower); }
  double above(double x) const override { return x <= s_.lower ? 1.0 : x >= s_.upper ? 0.0 : part(s_.upper - x); }
  double quantile(TwoSided p) const override {
    const double root = std::sin(0.5 * pi * std::min(p.lower, p.upper));
    const double inwards = (s_.upper - s_.lower) * root * root;
    return p.lower <= p.upper ? s_.lower + inwards : s_.upper - inwards;
  }
  double mean() const override { return 0.5 * (s_.lower + s_.upper); }
  double sd() const override { return (s_.upper - s_.lower) / std::sqrt(8.0); }
  Support support() const override { return {s_.lower, s_.upper}; }
  std::vector<double> joints() const override { return {s_.lower, s_.upper}; }

 private:
  double part(double inwards) const { return 2.0 / pi * std::asin(std::sqrt(inwards / (s_.upper - s_.lower))); }
  Arcsine s_;
};

class StudentLaw final : public Law {
 public:
  explicit StudentLaw(const StudentT& s) : s_(s), t_(s.degrees_of_freedom) {}
  double below(double x) const override { return cdf(t_, x / s_.scale); }
  double above(double x) const override { return cdf(t_, -x / s_.scale); }
  double quantile(TwoSided p) const override {
    using boost::math::quantile;
    return p.lower <= p.upper ? s_.scale * quantile(t_, p.lower) : -s_.scale * quantile(t_, p.upper);
  }
  double mean() const override { return s_.degrees_of_freedom > 1.0 ? 0.0 : std::numeric_limits<double>::quiet_NaN(); }
  double sd() const override {
    const double nu = s_.degrees_of_freedom;
    return nu > 2.0 ? s_.scale * std::sqrt(nu / (nu - 2.0)) : infinity;
  }
  Support support() const override { return {}; }

 private:
  StudentT s_;
  boost::math::students_t_distribution<double> t_;
};

class UniformLaw final : public Law {
 public:
  explicit UniformLaw(const Uniform& s) : s_(s) {}
  double below(double x) const override { return std::clamp((x - s_.lower) / (s_.upper - s_.lower), 0.0, 1.0); }
  double above(double x) const override { return std::clamp((s_.upper - x) / (s_.upper - s_.lower), 0.0, 1.0); }
  double quantile(TwoSided p) const override {
    return p.lower <= p.upper ? s_.lower + p.lower * (s_.upper - s_.lower) : s_.upper - p.upper * (s_.upper - s_.lower);
  }
  double mean() const override { return 0.5 * (s_.lower + s_.upper); }
  double sd() const override { return (s_.upper - s_.lower) / std::sqrt(12.0); }
  Support support() const override { return {s_.lower, s_.upper}; }
  std::vector<double> joints() const override { return {s_.lower, s_.upper}; }

 private:
  Uniform s_;
};

// JCGM 101:2008, 6.4.3. With b = half_width + edge the density outside the flat middle is ln(b / |x|) / (4 edge), and
// the probability beyond x is b / (4 edge) (d + (1 - d) ln(1 - d)), d = 1 - |x| / b.
class TrapezoidLaw final : public Law {
 public:
  explicit TrapezoidLaw(const CurvilinearTrapezoid& s)
      : s_(s), end_(s.half_width + s.edge), flat_(s.half_width - s.edge), tail_(beyond(flat_)) {}
  double below(double x) const override { return above(-x); }
  double above(double x) const override {
    if (x >= end_) return 0.0;
    if (x <= -end_) return 1.0;
    if (x >= flat_) return beyond(x);
    if (x <= -flat_) return 1.0 - beyond(-x);
    return tail_ + (1.0 - 2.0 * tail_) * (flat_ - x) / (2.0 * flat_);
  }
  double quantile(TwoSided p) const override {
    const double small = std::min(p.lower, p.upper);
    const double size = small >= tail_ ? (0.5 - small) / (0.5 - tail_) * flat_ : outside(small);
    return p.lower <= p.upper ? -size : size;
  }
  double mean() const override { return 0.0; }
  double sd() const override { return std::sqrt(s_.half_width * s_.half_width / 3.0 + s_.edge * s_.edge / 9.0); }
  Support support() const override { return {-end_, end_}; }
  std::vector<double> joints() const override { return {-end_, -flat_, flat_, end_}; }

 private:
  double beyond(double x) const { return end_ / (4.0 * s_.edge) * wedge((end_ - x) / end_); }
  // d + (1 - d) ln(1 - d) = sum over k >= 2 of d^k / (k (k - 1)); the closed form cancels for small d.
  static double wedge(double d) {
    if (d > 0.1) return d >= 1.0 ? 1.0 : d + (1.0 - d) * std::log1p(-d);
    double power = d * d, sum = 0.0;
    for (int k = 2; k < 18; ++k, power *= d) sum += power / (k * (k - 1));
    return sum;
  }
  double outside(double q) const {
    const double target = 4.0 * s_.edge / end_ * q;
    // Newton's method from below the root: wedge is convex, so the first step overshoots and the rest descend.
    double d = std::min(std::sqrt(2.0 * target), 1.0 - flat_ / end_);
    for (int step = 0; step < 50; ++step) {
      const double change = (wedge(d) - target) / -std::log1p(-d);
      d -= change;
      if (std::abs(change) <= 1e-16 * d) break;
    }
    return end_ * (1.0 - d);
  }
  CurvilinearTrapezoid s_;
  double end_, flat_, tail_;
};

struct LawMaker {
  std::unique_ptr<Law> operator()(const Normal& s) const {
    if (s.sd == 0.0) return std::make_unique<PointLaw>(0.0);
    return std::make_unique<NormalLaw>(s.sd);
  }
  std::unique_ptr<Law> operator()(const TruncatedNormal& s) const {
    return cut_law(law_of(Normal{s.sd}), {s.lower, s.upper});
  }
  std::unique_ptr<Law> operator()(const TwoPieceNormal& s) const {
    if (s.sd_below == 0.0 && s.sd_above == 0.0) return std::make_unique<PointLaw>(0.0);
    return std::make_unique<TwoPieceNormalLaw>(s);
  }
  std::unique_ptr<Law> operator()(const Lognormal& s) const {
    if (s.log_sd == 0.0) return std::make_unique<PointLaw>(0.0);
    return std::make_unique<LognormalLaw>(s);
  }
  std::unique_ptr<Law> operator()(const Uniform& s) const {
    if (s.lower == s.upper) return std::make_unique<PointLaw>(s.lower);
    return std::make_unique<UniformLaw>(s);
  }
  std::unique_ptr<Law> operator()(const Triangular& s) const {
    if (s.lower == s.upper) return std::make_unique<PointLaw>(s.lower);
    return std::make_unique<TriangularLaw>(s);
  }
  std::unique_ptr<Law> operator()(const Arcsine& s) const {
    if (s.lower == s.upper) return std::make_unique<PointLaw>(s.lower);
    return std::make_unique<ArcsineLaw>(s);
  }
  std::unique_ptr<Law> operator()(const StudentT& s) const {
    if (s.scale == 0.0) return std::make_unique<PointLaw>(0.0);
    return std::make_unique<StudentLaw>(s);
  }
  std::unique_ptr<Law> operator()(const CurvilinearTrapezoid& s) const {
    if (s.edge == 0.0) return (*this)(Uniform{-s.half_width, s.half_width});
    return std::make_unique<TrapezoidLaw>(s);
  }
  std::unique_ptr<Law> operator()(const Measured& s) const {
    if (s.bandwidth == 0.0 && s.sorted.front() == s.sorted.back()) return std::make_unique<PointLaw>(s.sorted.front());
    return measured_law(s);
  }
  std::unique_ptr<Law> operator()(const std::shared_ptr<const Mixture>& s) const { return mixture_law(*s); }
  std::unique_ptr<Law> operator()(const std::shared_ptr<const Truncated>& s) const {
    return cut_law(law_of(s->shape), {s->lower, s->upper});
  }
};

}  // namespace

double probability_in(const Law& law, Support kept) {
  const double below = law.below(kept.lower), above = law.above(kept.upper);
  // From the side on which the difference keeps its digits.
  double inside = 1.0 - below - above;
  if (below > 0.5) inside = law.from(kept.lower) - above;
  if (above > 0.5) inside = law.up_to(kept.upper) - below;
  return std::max(0.0, inside);
}

std::unique_ptr<Law> law_of(const Shape& shape) {
  expect(flaw_of(shape).empty(), "only a flawless shape has a law");
  return std::visit(LawMaker(), shape);
}

}  // namespace mintspread::sampling
