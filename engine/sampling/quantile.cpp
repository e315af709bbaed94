#include "engine/sampling/quantile.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstddef>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"
#include "engine/sampling/composite_law.hpp"
#include "engine/sampling/normal_score.hpp"
#include "engine/sampling/score_table.hpp"

namespace mintspread::sampling {

class Quantile::Form {
 public:
  explicit Form(const Law& law) : mean(law.mean()), sd(law.sd()), support(law.support()) {}
  virtual ~Form() = default;
  // In and out may be the same span in both.
  virtual void from_uniform(std::span<const double> u, std::span<double> out) const = 0;
  virtual void from_normal_score(std::span<const double> z, std::span<double> out) const = 0;

  const double mean, sd;
  const Support support;
};

namespace {

using Form = Quantile::Form;

TwoSided probability_of(double z) {
  const double small = normal_cdf(-std::abs(z));
  return z < 0.0 ? TwoSided{small, 1.0 - small} : TwoSided{1.0 - small, small};
}

/// A function of the probability, told from both ends.
template <typename Function>
class OfProbability final : public Form {
 public:
  OfProbability(const Law& law, Function function) : Form(law), function_(std::move(function)) {}
  void from_uniform(std::span<const double> u, std::span<double> out) const override {
    for (std::size_t i = 0; i < u.size(); ++i) out[i] = function_(TwoSided{u[i], 1.0 - u[i]});
  }
  void from_normal_score(std::span<const double> z, std::span<double> out) const override {
    for (std::size_t i = 0; i < z.size(); ++i) out[i] = function_(probability_of(z[i]));
  }

 private:
  Function function_;
};

/// A function of the normal score.
template <typename Function>
class OfScore final : public Form {
 public:
  OfScore(const Law& law, Function function) : Form(law), function_(std::move(function)) {}
  void from_uniform(std::span<const double> u, std::span<double> out) const override {
    normal_scores(u, out);
    from_normal_score(out, out);
  }
  void from_normal_score(std::span<const double> z, std::span<double> out) const override {
    for (std::size_t i = 0; i < z.size(); ++i) out[i] = function_(z[i]);
  }

 private:
  Function function_;
};

/// Forms that turn a probability into another one, always a half at most, take its normal score and finish with a
/// function of the score and of the side the probability was on.
template <typename Map>
class ByMappedScore final : public Form {
 public:
  ByMappedScore(const Law& law, Map map) : Form(law), map_(std::move(map)) {}
  void from_uniform(std::span<const double> u, std::span<double> out) const override {
    run(u, out, [](double value) { return TwoSided{value, 1.0 - value}; });
  }
  void from_normal_score(std::span<const double> z, std::span<double> out) const override {
    run(z, out, probability_of);
  }

 private:
  template <typename Probability>
  void run(std::span<const double> in, std::span<double> out, Probability probability) const {
    constexpr std::size_t batch = 256;
    std::array<double, batch> tails, sides;
    for (std::size_t start = 0; start < in.size(); start += batch) {
      const std::size_t count = std::min(batch, in.size() - start);
      for (std::size_t i = 0; i < count; ++i) {
        const auto [tail, side] = map_.tail(probability(in[start + i]));
        tails[i] = tail;
        sides[i] = side;
      }
      const std::span scores = std::span(tails).first(count);
      normal_scores(scores, scores);
      map_.finish(scores, std::span<const double>(sides).first(count), out.subspan(start, count));
    }
  }
  Map map_;
};

struct Tail {
  double probability, side;  ///< side -1: lower
};

struct TwoPieceMap {
  TwoPieceNormal shape;
  double share = shape.sd_below / (shape.sd_below + shape.sd_above);
  Tail tail(TwoSided p) const {
    return p.lower < share ? Tail{0.5 * p.lower / share, -1.0} : Tail{0.5 * p.upper / (1.0 - share), 1.0};
  }
  void finish(std::span<const double> scores, std::span<const double> sides, std::span<double> out) const {
    for (std::size_t i = 0; i < out.size(); ++i)
      out[i] = sides[i] < 0.0 ? shape.sd_below * scores[i] : -shape.sd_above * scores[i];
  }
};

/// Keeps a part of another form: its probability runs from what is cut below to what is cut above.
struct CutMap {
  std::shared_ptr<const Form> whole;
  TwoSided cut;
  double inside;
  Support kept;
  Tail tail(TwoSided p) const {
    const double lower = cut.lower + p.lower * inside, upper = cut.upper + p.upper * inside;
    return lower <= upper ? Tail{lower, -1.0} : Tail{upper, 1.0};
  }
  void finish(std::span<double> scores, std::span<const double> sides, std::span<double> out) const {
    for (std::size_t i = 0; i < out.size(); ++i) scores[i] = sides[i] < 0.0 ? scores[i] : -scores[i];
    whole->from_normal_score(scores, out);
    for (double& value : out) value = std::clamp(value, kept.lower, kept.upper);
  }
};

template <template <typename> typename Kind, typename Function>
std::shared_ptr<const Form> make(const Law& law, Function function) {
  return std::make_shared<const Kind<Function>>(law, std::move(function));
}

std::shared_ptr<const Form> tabulated(const Law& law) {
  return make<OfScore>(law, [table = ScoreTable(law)](double z) { return table.at(z); });
}

std::shared_ptr<const Form> cut_form(const Shape& shape, Support kept);

struct FormMaker {
  const Law& law;
  std::shared_ptr<const Form> operator()(const Normal& s) const {
    return make<OfScore>(law, [sd = s.sd](double z) { return sd * z; });
  }
  std::shared_ptr<const Form> operator()(const TruncatedNormal& s) const {
    return cut_form(Normal{s.sd}, {s.lower, s.upper});
  }
  std::shared_ptr<const Form> operator()(const TwoPieceNormal& s) const {
    return make<ByMappedScore>(law, TwoPieceMap{s});
  }
  std::shared_ptr<const Form> operator()(const Lognormal& s) const {
    return make<OfScore>(law, [s](double z) { return s.scale * std::expm1(s.log_sd * z); });
  }
  std::shared_ptr<const Form> operator()(const Uniform& s) const {
    return make<OfProbability>(law, [s, width = s.upper - s.lower](TwoSided p) {
      return p.lower <= p.upper ? s.lower + p.lower * width : s.upper - p.upper * width;
    });
  }
  std::shared_ptr<const Form> operator()(const Triangular& s) const {
    const double width = s.upper - s.lower;
    return make<OfProbability>(law, [s, share = (s.mode - s.lower) / width, left = width * (s.mode - s.lower),
                                     right = width * (s.upper - s.mode)](TwoSided p) {
      return p.lower < share ? s.lower + std::sqrt(p.lower * left) : s.upper - std::sqrt(p.upper * right);
    });
  }
  std::shared_ptr<const Form> operator()(const Arcsine& s) const {
    return make<OfProbability>(law, [s, width = s.upper - s.lower](TwoSided p) {
      const double root = std::sin(0.5 * pi * std::min(p.lower, p.upper));
      return p.lower <= p.upper ? s.lower + width * root * root : s.upper - width * root * root;
    });
  }
  std::shared_ptr<const Form> operator()(const CurvilinearTrapezoid& s) const {
    if (s.edge == 0.0) return (*this)(Uniform{-s.half_width, s.half_width});
    return tabulated(law);
  }
  std::shared_ptr<const Form> operator()(const Measured& s) const {
    if (s.bandwidth > 0.0) return tabulated(law);
    return make<OfProbability>(
        law, [whole = std::shared_ptr<const Law>(law_of(s))](TwoSided p) { return whole->quantile(p); });
  }
  std::shared_ptr<const Form> operator()(const StudentT&) const { return tabulated(law); }
  std::shared_ptr<const Form> operator()(const std::shared_ptr<const Mixture>&) const { return tabulated(law); }
  std::shared_ptr<const Form> operator()(const std::shared_ptr<const Truncated>& s) const {
    return cut_form(s->shape, {s->lower, s->upper});
  }
};

std::shared_ptr<const Form> form_of(const Shape& shape) {
  const auto law = law_of(shape);
  if (law->sd() == 0.0) return make<OfScore>(*law, [value = law->mean()](double) { return value; });
  return std::visit(FormMaker{*law}, shape);
}

std::shared_ptr<const Form> cut_form(const Shape& shape, Support kept) {
  auto whole_law = law_of(shape);
  const TwoSided cut{whole_law->below(kept.lower), whole_law->above(kept.upper)};
  const double inside = probability_in(*whole_law, kept);
  const auto law = cut_law(std::move(whole_law), kept);
  return make<ByMappedScore>(*law, CutMap{form_of(shape), cut, inside, law->support()});
}

}  // namespace

Quantile::Quantile(const Shape& shape) : form_(form_of(shape)) {}

double Quantile::mean() const { return form_->mean; }
double Quantile::sd() const { return form_->sd; }
Support Quantile::support() const { return form_->support; }

void Quantile::from_uniform(std::span<const double> u, std::span<double> out) const {
  expect(u.size() == out.size(), "as many values as uniforms");
  form_->from_uniform(u, out);
}

void Quantile::from_normal_score(std::span<const double> z, std::span<double> out) const {
  expect(z.size() == out.size(), "as many values as normal scores");
  form_->from_normal_score(z, out);
}

}  // namespace mintspread::sampling
