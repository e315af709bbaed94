#include "engine/sampling/composite_law.hpp"

#include <algorithm>
#include <boost/math/tools/toms748_solve.hpp>
#include <cmath>
#include <limits>
#include <utility>

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

class SmoothedLaw final : public Law {
 public:
  explicit SmoothedLaw(const Measured& shape) : shape_(shape) {}
  double below(double x) const override { return tail(shape_.sorted.begin(), shape_.sorted.end(), x, 1.0); }
  double above(double x) const override { return tail(shape_.sorted.rbegin(), shape_.sorted.rend(), x, -1.0); }
  double quantile(TwoSided p) const override {
    const double reach = shape_.bandwidth * (p.lower <= p.upper ? normal_score(p.lower) : -normal_score(p.upper));
    return solve_quantile(*this, p, shape_.sorted.front() + reach, shape_.sorted.back() + reach);
  }
  double mean() const override {
    double sum = 0.0;
    for (double value : shape_.sorted) sum += value;
    return sum / count();
  }
  double sd() const override {
    const double centre = mean();
    double sum = 0.0;
    for (double value : shape_.sorted) sum += (value - centre) * (value - centre);
    return std::hypot(std::sqrt(sum / count()), shape_.bandwidth);
  }
  Support support() const override { return {}; }

 private:
  // The terms fall from the near end of the data onwards, so the sum is done when they stop counting.
  template <typename Iterator>
  double tail(Iterator value, Iterator end, double x, double side) const {
    double sum = 0.0;
    for (; value != end; ++value) {
      const double term = normal_cdf(side * (x - *value) / shape_.bandwidth);
      sum += term;
      if (term <= 1e-20 * sum) break;
    }
    return sum / count();
  }
  double count() const { return static_cast<double>(shape_.sorted.size()); }
  Measured shape_;
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
