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

double log_normal_density(double x, double sd) {
  const double z = x / sd;
  return -0.5 * z * z - std::log(sd) - 0.5 * std::log(2.0 * pi);
}

struct LogDensity {
  double x;
  double log_kept;

  bool within(double lower, double upper) const { return x >= lower && x <= upper; }

  double operator()(const sampling::Normal& s) const { return log_normal_density(x, s.sd); }
  double operator()(const sampling::TruncatedNormal& s) const {
    return within(s.lower, s.upper) ? log_normal_density(x, s.sd) - log_kept : -infinity;
  }
  double operator()(const sampling::TwoPieceNormal& s) const {
    const double z = x / (x < 0.0 ? s.sd_below : s.sd_above);
    return -0.5 * z * z + 0.5 * std::log(2.0 / pi) - std::log(s.sd_below + s.sd_above);
  }
  double operator()(const sampling::Lognormal& s) const {
    const double value = x + s.scale;
    return value > 0.0 ? log_normal_density(std::log(value / s.scale), s.log_sd) - std::log(value) : -infinity;
  }
  double operator()(const sampling::Uniform& s) const {
    return within(s.lower, s.upper) ? -std::log(s.upper - s.lower) : -infinity;
  }
  double operator()(const sampling::Triangular& s) const {
    if (!within(s.lower, s.upper)) return -infinity;
    const double height = std::log(2.0 / (s.upper - s.lower));
    if (x == s.mode) return height;
    return height + std::log(x < s.mode ? (x - s.lower) / (s.mode - s.lower) : (s.upper - x) / (s.upper - s.mode));
  }
  double operator()(const sampling::Arcsine& s) const {
    return within(s.lower, s.upper) ? -std::log(pi) - 0.5 * std::log((x - s.lower) * (s.upper - x)) : -infinity;
  }
  double operator()(const sampling::StudentT& s) const {
    const double nu = s.degrees_of_freedom, z = x / s.scale;
    // lgamma_r: lgamma writes to a global.
    int sign = 0;
    return ::lgamma_r(0.5 * (nu + 1.0), &sign) - ::lgamma_r(0.5 * nu, &sign) - 0.5 * std::log(nu * pi) -
           std::log(s.scale) - 0.5 * (nu + 1.0) * std::log1p(z * z / nu);
  }
  // Mean over the half-width w, uniform in [h - e, h + e], of 1 / (2 w) for |x| < w.
  double operator()(const sampling::CurvilinearTrapezoid& s) const {
    const double outer = s.half_width + s.edge, inner = std::max(std::abs(x), s.half_width - s.edge);
    return inner < outer ? std::log(std::log(outer / inner) / (4.0 * s.edge)) : -infinity;
  }
  double operator()(const sampling::Measured&) const { return unfit(); }
  double operator()(const std::shared_ptr<const sampling::Mixture>& s) const {
    double sum = 0.0;
    for (const auto& part : s->parts)
      sum += part.weight * std::exp(std::visit(LogDensity{x - part.shift, log_kept}, part.shape));
    return std::log(sum);
  }
  double operator()(const std::shared_ptr<const sampling::Truncated>&) const { return unfit(); }

  static double unfit() {
    expect(false, "only shapes of few numbers are fitted");
    return 0.0;
  }
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

Curve::Curve(const Placed& placed) : placed_(placed), law_(sampling::law_of(placed.deviation)) {
  if (const auto* cut = std::get_if<sampling::TruncatedNormal>(&placed_.deviation))
    log_kept_ = std::log(sampling::kept_fraction(sampling::Normal{cut->sd}, {cut->lower, cut->upper}));
}

double Curve::log_density(double x) const {
  return std::visit(LogDensity{x - placed_.at, log_kept_}, placed_.deviation);
}

double log_likelihood(const Curve& curve, const Observations& observations) {
  double sum = 0.0;
  const auto add = [&](const Cell& cell) {
    const double one =
        cell.lower == cell.upper ? curve.log_density(cell.value) : std::log(probability(curve, cell.lower, cell.upper));
    sum += static_cast<double>(cell.count) * one;
  };
  for (const Cell& cell : observations.cells) add(cell);
  for (const Cell& cell : observations.censored) add(cell);
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
  bool exact = false;
  double smallest = o.cells.front().lower;
  for (const Cell& cell : o.cells) exact = exact || cell.lower == cell.upper;
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
  if (family_ == Family::arcsine && exact)
    obstacle_ = "its density is infinite at its ends, so that values without a resolution have no likeliest one";
  if (family_ == Family::mixture && o.count < fewest_for_mixture)
    obstacle_ = "two parts need 40 values to tell them apart";
  if (family_ == Family::truncated_normal && !kept_) {
    if (!o.censored.empty()) obstacle_ = "censored readings do not tell where it is cut; state the limits";
    kept_ = Kept{o.cells.front().lower, o.cells.back().upper};
    limits_estimated_ = true;
  } else if (family_ == Family::truncated_normal && (inner_lower_ <= kept_->lower || inner_upper_ >= kept_->upper)) {
    obstacle_ = "some readings lie outside of the stated limits";
  }
}

std::size_t Parameters::estimated() const {
  switch (family_) {
    case Family::normal:
    case Family::lognormal:
    case Family::uniform:
    case Family::arcsine:
      return 2;
    case Family::truncated_normal:
      return limits_estimated_ ? 4 : 2;
    case Family::mixture:
      return 5;
    default:
      return 3;
  }
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
      const double a = lower(t[0]), b = upper(t[1]), middle = 0.5 * (a + b);
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
