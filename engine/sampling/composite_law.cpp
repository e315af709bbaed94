#include "engine/sampling/composite_law.hpp"

#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <iterator>
#include <limits>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/sampling/normal_score.hpp"

namespace mintspread::sampling {

namespace {

/// Root of the distribution function between `lower` and `upper`, in the logarithm of the smaller tail.
double solve_quantile(const Law& law, TwoSided p, double lower, double upper) {
  constexpr double tiny = 1e-320;
  const auto excess = [&](double x) {
    return p.lower <= p.upper ? std::log(std::max(law.up_to(x), tiny) / p.lower)
                              : std::log(p.upper / std::max(law.above(x), tiny));
  };
  const double at_lower = excess(lower), at_upper = excess(upper);
  if (at_lower >= 0.0) return lower;
  if (at_upper <= 0.0) return upper;
  std::uintmax_t steps = 200;
  const auto root = boost::math::tools::toms748_solve(excess, lower, upper, at_lower, at_upper,
                                                      boost::math::tools::eps_tolerance<double>(52), steps);
  return root.second;
}

// n sorted values, n - 1 straight pieces of equal probability between them.
class EmpiricalLaw final : public Law {
 public:
  explicit EmpiricalLaw(std::vector<double> sorted) : sorted_(std::move(sorted)) {}
  double below(double x) const override {
    const auto i = std::lower_bound(sorted_.begin(), sorted_.end(), x) - sorted_.begin();  // values below x
    if (i == 0) return 0.0;
    return i == size() ? 1.0 : (static_cast<double>(i - 1) + left_part(i, x)) / pieces();
  }
  double up_to(double x) const override {
    const auto i = std::upper_bound(sorted_.begin(), sorted_.end(), x) - sorted_.begin();
    if (i == 0) return 0.0;
    return i == size() ? 1.0 : (static_cast<double>(i - 1) + left_part(i, x)) / pieces();
  }
  double above(double x) const override {
    const auto i = std::upper_bound(sorted_.begin(), sorted_.end(), x) - sorted_.begin();
    if (i == 0) return 1.0;
    return i == size() ? 0.0 : (static_cast<double>(size() - 1 - i) + right_part(i, x)) / pieces();
  }
  double from(double x) const override {
    const auto i = std::lower_bound(sorted_.begin(), sorted_.end(), x) - sorted_.begin();
    if (i == 0) return 1.0;
    return i == size() ? 0.0 : (static_cast<double>(size() - 1 - i) + right_part(i, x)) / pieces();
  }
  double quantile(TwoSided p) const override {
    const double steps = std::min(p.lower, p.upper) * pieces();
    const auto whole = std::min(static_cast<std::ptrdiff_t>(steps), size() - 2);
    const double rest = steps - static_cast<double>(whole);
    const auto from_end = [&](std::ptrdiff_t k) { return value(p.lower <= p.upper ? k : size() - 1 - k); };
    return from_end(whole) + rest * (from_end(whole + 1) - from_end(whole));
  }
  double mean() const override {
    double sum = 0.0;
    for (std::ptrdiff_t i = 0; i + 1 < size(); ++i) sum += 0.5 * (value(i) + value(i + 1));
    return sum / pieces();
  }
  double sd() const override {
    const double centre = mean();
    double sum = 0.0;
    for (std::ptrdiff_t i = 0; i + 1 < size(); ++i) {
      const double middle = 0.5 * (value(i) + value(i + 1)) - centre, width = value(i + 1) - value(i);
      sum += middle * middle + width * width / 12.0;
    }
    return std::sqrt(sum / pieces());
  }
  Support support() const override { return {sorted_.front(), sorted_.back()}; }
  std::vector<double> joints() const override { return sorted_; }

 private:
  std::ptrdiff_t size() const { return std::ssize(sorted_); }
  double value(std::ptrdiff_t i) const { return sorted_[static_cast<std::size_t>(i)]; }
  double pieces() const { return static_cast<double>(size() - 1); }
  double left_part(std::ptrdiff_t i, double x) const { return (x - value(i - 1)) / (value(i) - value(i - 1)); }
  double right_part(std::ptrdiff_t i, double x) const { return (value(i) - x) / (value(i) - value(i - 1)); }

  std::vector<double> sorted_;
};

// A normal distribution of standard deviation h about every value.
class SmoothedLaw final : public Law {
 public:
  explicit SmoothedLaw(const Measured& shape) : values_(shape.sorted), h_(shape.bandwidth) {
    // Where quantiles are looked for: a grid fine enough for Newton's method, coarser where outliers stretch the range.
    const double first = values_.front() - 9.0 * h_, last = values_.back() + 9.0 * h_;
    const double steps = std::min(std::ceil(8.0 * (last - first) / h_), 4000.0);
    for (double k = 0.0; k <= steps; ++k) {
      const double x = first + (last - first) * (k / steps);
      const double lower = below(x);
      grid_.push_back({x, lower <= 0.5 ? normal_score(lower) : -normal_score(above(x))});
    }
  }
  double below(double x) const override { return tail(x, 1.0).probability; }
  double above(double x) const override { return tail(x, -1.0).probability; }

  double quantile(TwoSided p) const override {
    const double side = p.lower <= p.upper ? 1.0 : -1.0;
    const double target = std::min(p.lower, p.upper);
    const double score = side * normal_score(target);
    const auto next = std::lower_bound(grid_.begin() + 1, grid_.end() - 1, score,
                                       [](const GridPoint& point, double z) { return point.score < z; });
    double lower = (next - 1)->x, upper = next->x;
    // Beyond the grid the nearest value's kernel bounds the tail.
    if (score < grid_.front().score) lower = values_.front() + h_ * score;
    if (score > grid_.back().score) upper = values_.back() + h_ * score;
    const double rise = next->score - (next - 1)->score;
    double x = rise > 0.0 ? lower + (upper - lower) * std::clamp((score - (next - 1)->score) / rise, 0.0, 1.0)
                          : 0.5 * (lower + upper);
    // Newton's method in the logarithm of the tail, kept inside the bracket by halving.
    for (int step = 0; step < 200; ++step) {
      const Tail here = tail(x, side);
      const double excess = side * std::log(std::max(here.probability, 1e-320) / target);
      (excess < 0.0 ? lower : upper) = x;
      double better = x - excess * here.probability / here.density;
      if (!(better >= lower && better <= upper)) better = 0.5 * (lower + upper);
      const double change = std::abs(better - x);
      x = better;
      // The next step would be about the square of this one: nothing to a double.
      if (change <= 3e-8 * h_ || upper - lower <= 4e-16 * std::abs(x)) break;
    }
    return x;
  }
  double mean() const override {
    double sum = 0.0;
    for (double value : values_) sum += value;
    return sum / count();
  }
  double sd() const override {
    const double centre = mean();
    double sum = 0.0;
    for (double value : values_) sum += (value - centre) * (value - centre);
    return std::hypot(std::sqrt(sum / count()), h_);
  }
  Support support() const override { return {}; }

 private:
  struct GridPoint {
    double x, score;
  };
  struct Tail {
    double probability, density;
  };
  /// Side 1: below x; -1: above x.
  Tail tail(double x, double side) const {
    if (side > 0.0) {
      const auto near = std::lower_bound(values_.begin(), values_.end(), x - 9.0 * h_);
      return tail_from(near, values_.end(), static_cast<double>(near - values_.begin()), x, side);
    }
    const auto near = std::make_reverse_iterator(std::upper_bound(values_.begin(), values_.end(), x + 9.0 * h_));
    return tail_from(near, values_.rend(), static_cast<double>(near - values_.rbegin()), x, side);
  }
  /// `passed` values lie so far inside the tail that they count whole. The terms of the rest fall, so the sum is done
  /// when they stop counting.
  template <typename Iterator>
  Tail tail_from(Iterator value, Iterator end, double passed, double x, double side) const {
    double sum = passed, density = 0.0;
    for (; value != end; ++value) {
      const double t = side * (x - *value) / h_;
      const double term = normal_cdf(t);
      sum += term;
      density += std::exp(-0.5 * t * t);
      if (term <= 1e-20 * sum) break;
    }
    return {sum / count(), density / (count() * h_ * std::sqrt(2.0 * pi))};
  }
  double count() const { return static_cast<double>(values_.size()); }

  std::vector<double> values_;
  double h_;
  std::vector<GridPoint> grid_;
};

class MixtureLaw final : public Law {
 public:
  explicit MixtureLaw(const Mixture& shape) {
    for (const auto& part : shape.parts) parts_.push_back({part.weight, part.shift, law_of(part.shape)});
  }
  double below(double x) const override {
    return sum([x](const Law& law, double shift) { return law.below(x - shift); });
  }
  double above(double x) const override {
    return sum([x](const Law& law, double shift) { return law.above(x - shift); });
  }
  double up_to(double x) const override {
    return sum([x](const Law& law, double shift) { return law.up_to(x - shift); });
  }
  double from(double x) const override {
    return sum([x](const Law& law, double shift) { return law.from(x - shift); });
  }
  double quantile(TwoSided p) const override {
    // The mixture's quantile lies between those of its parts.
    double lower = std::numeric_limits<double>::infinity(), upper = -lower;
    for (const Part& part : parts_) {
      const double x = part.shift + part.law->quantile(p);
      lower = std::min(lower, x);
      upper = std::max(upper, x);
    }
    return solve_quantile(*this, p, lower, upper);
  }
  double mean() const override {
    return sum([](const Law& law, double shift) { return law.mean() + shift; });
  }
  double sd() const override {
    const double centre = mean();
    return std::sqrt(sum([centre](const Law& law, double shift) {
      return law.sd() * law.sd() + (law.mean() + shift - centre) * (law.mean() + shift - centre);
    }));
  }
  Support support() const override {
    Support all{std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity()};
    for (const Part& part : parts_) {
      all.lower = std::min(all.lower, part.shift + part.law->support().lower);
      all.upper = std::max(all.upper, part.shift + part.law->support().upper);
    }
    return all;
  }
  std::vector<double> joints() const override {
    std::vector<double> all;
    for (const Part& part : parts_)
      for (double joint : part.law->joints()) all.push_back(part.shift + joint);
    return all;
  }
  double rounding() const override {
    return sum([](const Law& law, double) { return law.rounding(); });
  }

 private:
  struct Part {
    double weight, shift;
    std::unique_ptr<Law> law;
  };
  template <typename Term>
  double sum(Term term) const {
    double total = 0.0;
    for (const Part& part : parts_) total += part.weight * term(*part.law, part.shift);
    return total;
  }
  std::vector<Part> parts_;
};

}  // namespace

std::unique_ptr<Law> measured_law(const Measured& shape) {
  if (shape.bandwidth == 0.0) return std::make_unique<EmpiricalLaw>(shape.sorted);
  return std::make_unique<SmoothedLaw>(shape);
}

std::unique_ptr<Law> mixture_law(const Mixture& shape) { return std::make_unique<MixtureLaw>(shape); }

}  // namespace mintspread::sampling
