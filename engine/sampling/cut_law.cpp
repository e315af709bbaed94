#include <algorithm>
#include <boost/math/quadrature/gauss.hpp>
#include <cmath>
#include <utility>

#include "engine/base/contract.hpp"
#include "engine/sampling/composite_law.hpp"
#include "engine/sampling/normal_score.hpp"

namespace mintspread::sampling {

namespace {

class CutLaw final : public Law {
 public:
  CutLaw(std::unique_ptr<Law> law, Support kept)
      : law_(std::move(law)),
        support_{std::max(kept.lower, law_->support().lower), std::min(kept.upper, law_->support().upper)},
        cut_{law_->below(kept.lower), law_->above(kept.upper)},
        inside_(probability_in(*law_, kept)) {
    expect(inside_ > 0.0, "something is left of a cut distribution");
    find_moments();
  }

  double below(double x) const override {
    if (x <= support_.lower) return 0.0;
    if (x > support_.upper) return 1.0;
    return cut_.lower < 0.5 ? std::clamp((law_->below(x) - cut_.lower) / inside_, 0.0, 1.0) : 1.0 - from(x);
  }
  double from(double x) const override {
    if (x <= support_.lower) return 1.0;
    if (x > support_.upper) return 0.0;
    return cut_.upper < 0.5 ? std::clamp((law_->from(x) - cut_.upper) / inside_, 0.0, 1.0) : 1.0 - below(x);
  }
  double above(double x) const override {
    if (x < support_.lower) return 1.0;
    if (x >= support_.upper) return 0.0;
    return cut_.upper < 0.5 ? std::clamp((law_->above(x) - cut_.upper) / inside_, 0.0, 1.0) : 1.0 - up_to(x);
  }
  double up_to(double x) const override {
    if (x < support_.lower) return 0.0;
    if (x >= support_.upper) return 1.0;
    return cut_.lower < 0.5 ? std::clamp((law_->up_to(x) - cut_.lower) / inside_, 0.0, 1.0) : 1.0 - above(x);
  }
  double quantile(TwoSided p) const override {
    const TwoSided uncut{cut_.lower + p.lower * inside_, cut_.upper + p.upper * inside_};
    return std::clamp(law_->quantile(uncut), support_.lower, support_.upper);
  }
  double mean() const override { return mean_; }
  double sd() const override { return sd_; }
  Support support() const override { return support_; }
  std::vector<double> joints() const override {
    std::vector<double> all{support_.lower, support_.upper};
    for (double joint : law_->joints())
      if (joint > support_.lower && joint < support_.upper) all.push_back(joint);
    return all;
  }
  double rounding() const override {
    return (law_->rounding() + (cut_.lower + cut_.upper > 0.0 ? 4e-16 : 0.0)) / inside_;
  }

 private:
  void find_moments() {
    const auto score = [](double lower, double upper) {
      return std::clamp(lower <= upper ? normal_score(lower) : -normal_score(upper), -38.0, 38.0);
    };
    // Beyond nine scores, or five past the nearer end, lies 1e-19 of the probability.
    double first = score(cut_.lower, law_->from(support_.lower)), last = score(law_->up_to(support_.upper), cut_.upper);
    first = std::max(first, std::min(-9.0, last - 5.0));
    last = std::min(last, std::max(9.0, first + 5.0));
    std::vector<double> edges{first, last};
    for (double joint : law_->joints()) {
      edges.push_back(std::clamp(score(law_->below(joint), law_->from(joint)), first, last));
      edges.push_back(std::clamp(score(law_->up_to(joint), law_->above(joint)), first, last));
    }
    std::sort(edges.begin(), edges.end());
    // A first pass places the origin near the mean and tells how large the sums are; the second halves its panels to
    // that.
    double origin = 0.0;
    Sums total = sums_over(edges, origin, Sums{});
    if (total.weight > 0.0) {
      origin = total.sum / total.weight;
      const double spread = std::sqrt(std::max(0.0, total.squares / total.weight - origin * origin));
      total = sums_over(edges, origin, {total.weight, total.weight * spread, total.weight * spread * spread});
      const double offset = total.sum / total.weight;
      mean_ = origin + offset;
      sd_ = std::sqrt(std::max(0.0, total.squares / total.weight - offset * offset));
    } else {  // a single value, or limits too close to be told from one
      mean_ = quantile({0.5, 0.5});
      sd_ = 0.0;
    }
  }

  /// Integrals of 1, x - origin and its square over the normal score, times sqrt(2 pi).
  struct Sums {
    double weight = 0.0, sum = 0.0, squares = 0.0;
    void operator+=(const Sums& other) {
      weight += other.weight;
      sum += other.sum;
      squares += other.squares;
    }
  };

  /// Panels of half a score at most. `size` above zero: halved until the halves agree with the whole to 1e-13 of it.
  Sums sums_over(const std::vector<double>& edges, double origin, const Sums& size) const {
    Sums total;
    for (std::size_t i = 0; i + 1 < edges.size(); ++i) {
      const double length = edges[i + 1] - edges[i];
      const double pieces = std::ceil(2.0 * length);
      for (double k = 0.0; k < pieces; ++k) {
        const double lower = edges[i] + length * (k / pieces), upper = edges[i] + length * ((k + 1.0) / pieces);
        const Sums once = panel(lower, upper, origin);
        total += size.weight > 0.0 ? refined(lower, upper, origin, once, size, 40) : once;
      }
    }
    return total;
  }

  Sums refined(double lower, double upper, double origin, const Sums& once, const Sums& size, int depth) const {
    constexpr double tolerance = 1e-13;
    const double middle = 0.5 * (lower + upper);
    const Sums left = panel(lower, middle, origin), right = panel(middle, upper, origin);
    Sums twice = left;
    twice += right;
    if (depth == 0 || (std::abs(twice.sum - once.sum) <= tolerance * size.sum &&
                       std::abs(twice.squares - once.squares) <= tolerance * size.squares))
      return twice;
    twice = refined(lower, middle, origin, left, size, depth - 1);
    twice += refined(middle, upper, origin, right, size, depth - 1);
    return twice;
  }

  Sums panel(double lower, double upper, double origin) const {
    using Rule = boost::math::quadrature::gauss<double, 20>;
    const double middle = 0.5 * (lower + upper), half = 0.5 * (upper - lower);
    Sums sums;
    for (std::size_t node = 0; node < Rule::abscissa().size(); ++node) {
      for (double side : {-1.0, 1.0}) {
        const double z = middle + side * half * Rule::abscissa()[node];
        const double x = law_->quantile({normal_cdf(z), normal_cdf(-z)});
        const double deviation = std::clamp(x, support_.lower, support_.upper) - origin;
        const double weight = half * Rule::weights()[node] * std::exp(-0.5 * z * z);
        sums += {weight, weight * deviation, weight * deviation * deviation};
      }
    }
    return sums;
  }

  std::unique_ptr<Law> law_;
  Support support_;
  TwoSided cut_;  ///< probability removed at either end
  double inside_;
  double mean_ = 0.0, sd_ = 0.0;
};

}  // namespace

std::unique_ptr<Law> cut_law(std::unique_ptr<Law> law, Support kept) {
  return std::make_unique<CutLaw>(std::move(law), kept);
}

}  // namespace mintspread::sampling
