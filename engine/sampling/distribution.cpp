#include "engine/sampling/distribution.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/sampling/law.hpp"

namespace mintspread::sampling {

namespace {

template <typename... Values>
bool finite(Values... values) {
  return (std::isfinite(values) && ...);
}

constexpr const char* not_finite = "every parameter must be a finite number";
constexpr const char* ends = "the lower end must not lie above the upper end";

class FlawFinder {
 public:
  std::string operator()(const Normal& s) const {
    if (!finite(s.sd)) return not_finite;
    return s.sd < 0.0 ? "a standard deviation must not be negative" : "";
  }
  std::string operator()(const TruncatedNormal& s) const { return cut(Normal{s.sd}, {s.lower, s.upper}); }
  std::string operator()(const TwoPieceNormal& s) const {
    if (!finite(s.sd_below, s.sd_above)) return not_finite;
    return s.sd_below < 0.0 || s.sd_above < 0.0 ? "a standard deviation must not be negative" : "";
  }
  std::string operator()(const Lognormal& s) const {
    if (!finite(s.scale, s.log_sd)) return not_finite;
    if (s.scale <= 0.0) return "the median of a lognormal distribution must be positive";
    if (s.log_sd < 0.0) return "a standard deviation must not be negative";
    return s.log_sd > 20.0 ? "the standard deviation of the logarithm must not exceed 20" : "";
  }
  std::string operator()(const Uniform& s) const {
    if (!finite(s.lower, s.upper)) return not_finite;
    return s.lower > s.upper ? ends : "";
  }
  std::string operator()(const Triangular& s) const {
    if (!finite(s.lower, s.mode, s.upper)) return not_finite;
    return s.lower > s.mode || s.mode > s.upper ? "the mode must lie between the lower and the upper end" : "";
  }
  std::string operator()(const Arcsine& s) const { return (*this)(Uniform{s.lower, s.upper}); }
  std::string operator()(const StudentT& s) const {
    if (!finite(s.scale, s.degrees_of_freedom)) return not_finite;
    if (s.scale < 0.0) return "a scale must not be negative";
    return s.degrees_of_freedom < 0.5 ? "Student's t needs at least 0.5 degrees of freedom" : "";
  }
  std::string operator()(const CurvilinearTrapezoid& s) const {
    if (!finite(s.half_width, s.edge)) return not_finite;
    return s.edge < 0.0 || s.edge >= s.half_width ? "the edge must not be negative and must be below the half-width"
                                                  : "";
  }
  std::string operator()(const Measured& s) const {
    if (s.sorted.empty()) return "measured data needs at least one value";
    if (!finite(s.bandwidth) || !std::ranges::all_of(s.sorted, [](double x) { return std::isfinite(x); }))
      return not_finite;
    if (s.bandwidth < 0.0) return "a bandwidth must not be negative";
    return std::ranges::is_sorted(s.sorted) ? "" : "measured values must be handed over in ascending order";
  }
  std::string operator()(const std::shared_ptr<const Mixture>& s) const {
    if (!s || s->parts.empty()) return "a mixture needs at least one part";
    double sum = 0.0;
    for (const auto& part : s->parts) {
      if (!finite(part.weight, part.shift)) return not_finite;
      if (part.weight <= 0.0) return "the weight of a mixture's part must be positive";
      if (const std::string flaw = flaw_of(part.shape); !flaw.empty()) return flaw;
      sum += part.weight;
    }
    return std::abs(sum - 1.0) > 1e-9 ? "the weights of a mixture must sum to 1" : "";
  }
  std::string operator()(const std::shared_ptr<const Truncated>& s) const {
    return s ? cut(s->shape, {s->lower, s->upper}) : "there is no distribution to cut";
  }

 private:
  static std::string cut(const Shape& whole, Support kept) {
    if (const std::string flaw = flaw_of(whole); !flaw.empty()) return flaw;
    if (std::isnan(kept.lower) || std::isnan(kept.upper)) return not_finite;
    if (kept.lower > kept.upper) return ends;
    return kept_fraction(whole, kept) > 0.0 ? "" : "nothing of the distribution lies within the limits";
  }
};

struct Scaler {
  double f;
  Shape operator()(const Normal& s) const { return Normal{s.sd * f}; }
  Shape operator()(const TruncatedNormal& s) const { return TruncatedNormal{s.sd * f, s.lower * f, s.upper * f}; }
  Shape operator()(const TwoPieceNormal& s) const { return TwoPieceNormal{s.sd_below * f, s.sd_above * f}; }
  Shape operator()(const Lognormal& s) const { return Lognormal{s.scale * f, s.log_sd}; }
  Shape operator()(const Uniform& s) const { return Uniform{s.lower * f, s.upper * f}; }
  Shape operator()(const Triangular& s) const { return Triangular{s.lower * f, s.mode * f, s.upper * f}; }
  Shape operator()(const Arcsine& s) const { return Arcsine{s.lower * f, s.upper * f}; }
  Shape operator()(const StudentT& s) const { return StudentT{s.scale * f, s.degrees_of_freedom}; }
  Shape operator()(const CurvilinearTrapezoid& s) const { return CurvilinearTrapezoid{s.half_width * f, s.edge * f}; }
  Shape operator()(const Measured& s) const {
    Measured out = s;
    for (double& value : out.sorted) value *= f;
    out.bandwidth *= f;
    return out;
  }
  Shape operator()(const std::shared_ptr<const Mixture>& s) const {
    Mixture out = *s;
    for (auto& part : out.parts) part.shift *= f, part.shape = scaled(part.shape, f);
    return std::make_shared<const Mixture>(std::move(out));
  }
  Shape operator()(const std::shared_ptr<const Truncated>& s) const {
    return std::make_shared<const Truncated>(Truncated{scaled(s->shape, f), s->lower * f, s->upper * f});
  }
};

}  // namespace

Shape scaled(const Shape& shape, double factor) { return std::visit(Scaler{factor}, shape); }

std::string flaw_of(const Shape& shape) { return std::visit(FlawFinder(), shape); }

double kept_fraction(const Shape& shape, Support kept) { return probability_in(*law_of(shape), kept); }

}  // namespace mintspread::sampling
