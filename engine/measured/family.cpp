#include "engine/measured/family.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "engine/base/constants.hpp"
#include "engine/base/contract.hpp"

namespace mintspread::measured {

namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();
constexpr std::uint64_t fewest_for_mixture = 40;
constexpr double most_degrees_of_freedom = 1000.0;

const double log_root_two_pi = 0.5 * std::log(2.0 * pi);

/// Logarithm of the factor of a density that does not depend on x.
struct LogFactor {
  double operator()(const sampling::Normal& s) const { return -std::log(s.sd) - log_root_two_pi; }
  double operator()(const sampling::TruncatedNormal& s) const {
    const double kept = sampling::kept_fraction(sampling::Normal{s.sd}, {s.lower, s.upper});
    return -std::log(s.sd) - log_root_two_pi - std::log(kept);
  }
  double operator()(const sampling::TwoPieceNormal& s) const {
    return 0.5 * std::log(2.0 / pi) - std::log(s.sd_below + s.sd_above);
  }
  double operator()(const sampling::Lognormal& s) const { return -std::log(s.log_sd) - log_root_two_pi; }
  double operator()(const sampling::Uniform& s) const { return -std::log(s.upper - s.lower); }
  double operator()(const sampling::Triangular& s) const { return std::log(2.0 / (s.upper - s.lower)); }
  double operator()(const sampling::Arcsine&) const { return -std::log(pi); }
  double operator()(const sampling::StudentT& s) const {
    // lgamma_r: lgamma writes to a global.
    const double nu = s.degrees_of_freedom;
    int sign = 0;
    return ::lgamma_r(0.5 * (nu + 1.0), &sign) - ::lgamma_r(0.5 * nu, &sign) - 0.5 * std::log(nu * pi) -
           std::log(s.scale);
  }
  double operator()(const sampling::CurvilinearTrapezoid& s) const { return -std::log(4.0 * s.edge); }
  double operator()(const sampling::Measured&) const { return unfit(); }
  double operator()(const std::shared_ptr<const sampling::Mixture>&) const { return 0.0; }
  double operator()(const std::shared_ptr<const sampling::Truncated>&) const { return unfit(); }

  static double unfit() {
    expect(false, "only shapes of few numbers are fitted");
    return 0.0;
  }
};

double square(double x) { return x * x; }

/// Logarithm of the other factor.
struct LogCourse {
  double x;

  double operator()(const sampling::Normal& s) const { return -0.5 * square(x / s.sd); }
  double operator()(const sampling::TruncatedNormal& s) const {
    return x >= s.lower && x <= s.upper ? -0.5 * square(x / s.sd) : -infinity;
  }
  double operator()(const sampling::TwoPieceNormal& s) const {
    return -0.5 * square(x / (x < 0.0 ? s.sd_below : s.sd_above));
  }
  double operator()(const sampling::Lognormal& s) const {
    const double value = x + s.scale;
    return value > 0.0 ? -0.5 * square(std::log(value / s.scale) / s.log_sd) - std::log(value) : -infinity;
  }
  double operator()(const sampling::Uniform& s) const { return x >= s.lower && x <= s.upper ? 0.0 : -infinity; }
  double operator()(const sampling::Triangular& s) const {
    if (x < s.lower || x > s.upper) return -infinity;
    if (x == s.mode) return 0.0;
    return std::log(x < s.mode ? (x - s.lower) / (s.mode - s.lower) : (s.upper - x) / (s.upper - s.mode));
  }
  double operator()(const sampling::Arcsine& s) const {
    return x >= s.lower && x <= s.upper ? -0.5 * std::log((x - s.lower) * (s.upper - x)) : -infinity;
  }
  double operator()(const sampling::StudentT& s) const {
    const double nu = s.degrees_of_freedom;
    return -0.5 * (nu + 1.0) * std::log1p(square(x / s.scale) / nu);
  }
  // Mean over the half-width w, uniform in [h - e, h + e], of 1 / (2 w) for |x| < w.
  double operator()(const sampling::CurvilinearTrapezoid& s) const {
    const double outer = s.half_width + s.edge, inner = std::max(std::abs(x), s.half_width - s.edge);
    return inner < outer ? std::log(std::log(outer / inner)) : -infinity;
  }
  double operator()(const sampling::Measured&) const { return LogFactor::unfit(); }
  double operator()(const std::shared_ptr<const sampling::Mixture>& s) const {
    double sum = 0.0;
    for (const auto& part : s->parts)
      sum += part.weight *
             std::exp(std::visit(LogFactor{}, part.shape) + std::visit(LogCourse{x - part.shift}, part.shape));
    return std::log(sum);
  }
  double operator()(const std::shared_ptr<const sampling::Truncated>&) const { return LogFactor::unfit(); }
};

/// Length over which a density without jumps or corners changes; 0 where it has some.
struct SmoothLength {
  double operator()(const sampling::Normal& s) const { return s.sd; }
  double operator()(const sampling::TwoPieceNormal& s) const { return std::min(s.sd_below, s.sd_above); }
  double operator()(const sampling::Lognormal& s) const { return s.scale * std::min(s.log_sd, 0.5) * 0.5; }
  double operator()(const sampling::StudentT& s) const { return s.scale; }
  double operator()(const std::shared_ptr<const sampling::Mixture>& s) const {
    double least = infinity;
    for (const auto& part : s->parts) least = std::min(least, std::visit(SmoothLength{}, part.shape));
    return least;
  }
  double operator()(const auto&) const { return 0.0; }
};

double probability(const Curve& curve, double lower, double upper) {
  if (lower == -infinity) return curve.below(upper);
  if (upper == infinity) return curve.above(lower);
  const double before = curve.below(lower);
  return before < 0.5 ? curve.below(upper) - before : curve.above(lower) - curve.above(upper);
}

double fraction(double t) { return 1.0 / (1.0 + std::exp(-t)); }

}  // namespace

std::string_view name_of(Family family) {
  constexpr std::string_view names[] = {"normal",           "two-piece normal", "lognormal", "student t",
                                        "uniform",          "triangular",       "arcsine",   "curvilinear trapezoid",
                                        "truncated normal", "mixture"};
  return names[static_cast<std::size_t>(family)];
}

Curve::Curve(const Placed& placed)
    : placed_(placed),
      law_(sampling::law_of(placed.deviation)),
      log_factor_(std::visit(LogFactor{}, placed.deviation)),
      smooth_length_(std::visit(SmoothLength{}, placed.deviation)) {}

double Curve::log_density(double x) const {
  return log_factor_ + std::visit(LogCourse{x - placed_.at}, placed_.deviation);
}

double Curve::log_probability(const Cell& cell) const {
  if (cell.lower == cell.upper) return log_density(cell.value);
  const double width = cell.upper - cell.lower;
  if (!(width < 0.2 * smooth_length_)) return std::log(probability(*this, cell.lower, cell.upper));
  // Simpson's rule: off by (width / sd)^4 / 2880 times a few, below 1e-5 here, and quicker than distribution functions.
  const double middle = log_density(0.5 * (cell.lower + cell.upper));
  const double ends = std::exp(log_density(cell.lower) - middle) + std::exp(log_density(cell.upper) - middle);
  return middle + std::log(width * (ends + 4.0) / 6.0);
}

double log_likelihood(const Curve& curve, const Observations& observations) {
  double sum = 0.0;
  for (const auto* cells : {&observations.cells, &observations.censored})
    for (const Cell& cell : *cells) sum += static_cast<double>(cell.count) * curve.log_probability(cell);
  return sum;
}

Parameters::Parameters(Family family, const Observations& o, std::optional<Kept> kept)
    : family_(family),
      kept_(kept),
      mean_(o.mean),
      sd_(o.sd),
      skewness_(o.skewness),
      step_(o.cells.front().upper - o.cells.front().lower),
      inner_lower_(o.cells.front().upper),
      inner_upper_(o.cells.back().lower) {
  double smallest = o.cells.front().lower;
  for (const Cell& cell : o.censored) {
    if (cell.lower == -infinity) inner_lower_ = std::min(inner_lower_, cell.upper);
    if (cell.upper == infinity) inner_upper_ = std::max(inner_upper_, cell.lower);
  }
  const auto n = static_cast<double>(o.values);
  if (family_ == Family::lognormal) {
    if (!(smallest > 0.0)) {
      obstacle_ = "values at or below zero have no logarithm";
      return;
    }
    for (const Cell& cell : o.cells) log_mean_ += static_cast<double>(cell.count) * std::log(cell.value) / n;
    for (const Cell& cell : o.cells) {
      const double deviation = std::log(cell.value) - log_mean_;
      log_sd_ += static_cast<double>(cell.count) * deviation * deviation / n;
    }
    log_sd_ = std::sqrt(log_sd_);
  }
  if (family_ == Family::arcsine) {
    // Where the steps do not tell, its ends stand off the extreme values as they do on average, at F = 1 / (n + 1) with
    // F = 2 / pi arcsin sqrt(x / width).
    const double off = (o.largest - o.smallest) * std::pow(0.5 * pi / (n + 1.0), 2);
    if (off > 0.5 * step_) outer_lower_ = o.smallest - off, outer_upper_ = o.largest + off;
  }
  if (family_ == Family::mixture && o.count < fewest_for_mixture)
    obstacle_ = "two parts need 40 values to tell them apart";
  if (family_ == Family::truncated_normal && !kept_)
    obstacle_ = "the limits it was cut at are to be stated, since limits at the extreme values fit any sample better";
  else if (family_ == Family::truncated_normal && (inner_lower_ <= kept_->lower || inner_upper_ >= kept_->upper))
    obstacle_ = "some readings lie outside of the stated limits";
}

std::size_t Parameters::estimated() const {
  switch (family_) {
    case Family::normal:
    case Family::lognormal:
    case Family::uniform:
    case Family::arcsine:
    case Family::truncated_normal:
      return 2;
    case Family::mixture:
      return 5;
    default:
      return 3;
  }
}

std::size_t Parameters::counted() const {
  const bool ends =
      family_ == Family::uniform || family_ == Family::arcsine || family_ == Family::curvilinear_trapezoid;
  return estimated() + (ends ? 2 : 0);
}

std::vector<std::vector<double>> Parameters::starts() const {
  // An end a little outside of the values, or in the middle of the outermost cell.
  const double near = std::log(0.05), inside = std::log(std::max(0.5 * step_ / sd_, 1e-3));
  switch (family_) {
    case Family::normal:
    case Family::lognormal:
      return {{0.0, 0.0}};
    case Family::two_piece_normal: {
      const double lean = std::clamp(skewness_, -0.9, 0.9);
      return {{-0.8 * lean, -0.6 * lean, 0.4 * lean}, {0.0, 0.0, 0.0}};
    }
    case Family::student_t:
      return {{0.0, -0.3, std::log(4.0)}};
    case Family::uniform:
    case Family::arcsine:
      return {{inside, inside}, {near, near}};
    case Family::triangular:
      return {{std::log(0.3), std::log(0.3), -skewness_}, {near, near, 0.0}};
    case Family::curvilinear_trapezoid:
      return {{0.0, std::log(0.1), 0.0}, {0.0, near, -3.0}};
    case Family::truncated_normal:
      return {{0.0, 0.2}, {0.0, 1.0}};
    case Family::mixture:
      return {{-0.7, -0.6, 0.7, -0.6, 0.0}, {-0.2, -0.4, 1.0, -0.2, 1.5}, {-1.0, -0.2, 0.2, -0.4, -1.5}};
  }
  return {};
}

std::optional<Placed> Parameters::placed(std::span<const double> t) const {
  for (double number : t)
    if (!(std::abs(number) < 50.0)) return std::nullopt;
  const auto lower = [&](double number) { return inner_lower_ - sd_ * std::exp(number); };
  const auto upper = [&](double number) { return inner_upper_ + sd_ * std::exp(number); };
  switch (family_) {
    case Family::normal:
      return Placed{mean_ + sd_ * t[0], sampling::Normal{sd_ * std::exp(t[1])}};
    case Family::two_piece_normal:
      return Placed{mean_ + sd_ * t[0], sampling::TwoPieceNormal{sd_ * std::exp(t[1]), sd_ * std::exp(t[2])}};
    case Family::lognormal: {
      const double median = std::exp(log_mean_ + log_sd_ * t[0]);
      return Placed{median, sampling::Lognormal{median, log_sd_ * std::exp(t[1])}};
    }
    case Family::student_t: {
      const double freedom = 2.0 + std::exp(t[2]);
      if (freedom > most_degrees_of_freedom || freedom < 2.001) return std::nullopt;
      return Placed{mean_ + sd_ * t[0], sampling::StudentT{sd_ * std::exp(t[1]), freedom}};
    }
    case Family::uniform:
    case Family::arcsine: {
      const double a = std::min(lower(t[0]), outer_lower_), b = std::max(upper(t[1]), outer_upper_);
      const double middle = 0.5 * (a + b);
      if (!(a < b)) return std::nullopt;
      if (family_ == Family::uniform) return Placed{middle, sampling::Uniform{a - middle, b - middle}};
      return Placed{middle, sampling::Arcsine{a - middle, b - middle}};
    }
    case Family::triangular: {
      const double a = lower(t[0]), b = upper(t[1]), mode = a + (b - a) * fraction(t[2]);
      if (!(a < mode && mode < b)) return std::nullopt;
      return Placed{mode, sampling::Triangular{a - mode, 0.0, b - mode}};
    }
    case Family::curvilinear_trapezoid: {
      const double centre = 0.5 * (inner_lower_ + inner_upper_) + sd_ * t[0];
      const double reach = std::max(inner_upper_ - centre, centre - inner_lower_);
      const double outer = reach + sd_ * std::exp(t[1]), edge = 0.5 * outer * fraction(t[2]);
      if (!(outer > 0.0 && edge > 1e-4 * outer && edge < 0.4999 * outer)) return std::nullopt;
      return Placed{centre, sampling::CurvilinearTrapezoid{outer - edge, edge}};
    }
    case Family::truncated_normal: {
      const double at = mean_ + sd_ * t[0], sd = sd_ * std::exp(t[1]);
      // Wider than its limits, the curve between them is flat and the data say nothing more about it.
      if (!(at > kept_->lower && at < kept_->upper && sd < 2.0 * (kept_->upper - kept_->lower))) return std::nullopt;
      return Placed{at, sampling::TruncatedNormal{sd, kept_->lower - at, kept_->upper - at}};
    }
    case Family::mixture: {
      const double weight = fraction(t[4]);
      const double first = sd_ * std::exp(t[1]), second = sd_ * std::exp(t[3]);
      // The likelihood of a part that shrinks onto one value grows without bound and says nothing.
      if (std::min(first, second) < 0.1 * sd_ || std::max(first, second) > 10.0 * sd_) return std::nullopt;
      if (weight < 0.02 || weight > 0.98) return std::nullopt;
      const double a = mean_ + sd_ * t[0], b = mean_ + sd_ * t[2], mean = weight * a + (1.0 - weight) * b;
      sampling::Mixture parts;
      parts.parts = {{weight, a - mean, sampling::Normal{first}}, {1.0 - weight, b - mean, sampling::Normal{second}}};
      if (b < a) std::swap(parts.parts[0], parts.parts[1]);
      return Placed{mean, std::make_shared<const sampling::Mixture>(std::move(parts))};
    }
  }
  return std::nullopt;
}

}  // namespace mintspread::measured
