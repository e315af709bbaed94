#pragma once

#include <limits>
#include <memory>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "engine/measured/observations.hpp"
#include "engine/sampling/law.hpp"

namespace mintspread::measured {

/// The shapes a specification can state by a few numbers.
enum class Family {
  normal,
  two_piece_normal,
  lognormal,
  student_t,
  uniform,
  triangular,
  arcsine,
  curvilinear_trapezoid,
  truncated_normal,
  mixture  ///< of two normals
};
inline constexpr Family families[] = {
    Family::normal,           Family::two_piece_normal, Family::lognormal, Family::student_t,
    Family::uniform,          Family::triangular,       Family::arcsine,   Family::curvilinear_trapezoid,
    Family::truncated_normal, Family::mixture};

/// As the specification calls it.
std::string_view name_of(Family family);

/// A distribution of values: `at` is the nominal value, the shape tells the deviation from it.
struct Placed {
  double at = 0.0;
  sampling::Shape deviation = sampling::Normal{1.0};
};

/// Density and distribution function of a placed shape.
class Curve {
 public:
  explicit Curve(const Placed& placed);
  /// -infinity where the density is zero. No shape of measured data, no general truncation.
  double log_density(double x) const;
  /// Logarithm of the probability of a cell, or of the density where it has no width. To 1e-5.
  double log_probability(const Cell& cell) const;
  double below(double x) const { return law_->below(x - placed_.at); }
  double above(double x) const { return law_->above(x - placed_.at); }
  double quantile(sampling::TwoSided p) const { return placed_.at + law_->quantile(p); }
  double mean() const { return placed_.at + law_->mean(); }
  double sd() const { return law_->sd(); }
  sampling::Support support() const {
    const sampling::Support s = law_->support();
    return {placed_.at + s.lower, placed_.at + s.upper};
  }

 private:
  Placed placed_;
  std::unique_ptr<sampling::Law> law_;
  double log_factor_;     ///< of the density: what does not depend on x
  double smooth_length_;  ///< over which the density changes; 0: it has jumps or corners
};

/// The sum over all cells of count times the logarithm of the cell's probability, or of the density where a value was
/// not rounded.
double log_likelihood(const Curve& curve, const Observations& observations);

/// Limits outside of which pieces had been sorted out before they were measured.
struct Kept {
  double lower, upper;
};

/// A family as a function of free numbers on the whole line, scaled to the data: what a search for the largest
/// likelihood needs.
class Parameters {
 public:
  Parameters(Family family, const Observations& observations, std::optional<Kept> kept);

  /// Why the family cannot be fitted to these data; empty when it can.
  std::string_view obstacle() const { return obstacle_; }
  /// Numbers estimated from the data.
  std::size_t estimated() const;
  /// As the information criterion counts them: an end at which the density does not fall to zero counts twice, since
  /// its likeliest place, an extreme value, raises ln L by 1 on average (exactly so for a uniform) where any other
  /// parameter raises it by 1/2.
  std::size_t counted() const;
  /// Points a search may begin from, the most likely first.
  std::vector<std::vector<double>> starts() const;
  /// Nothing where the numbers are beyond what the grammar can state or the data can tell.
  std::optional<Placed> placed(std::span<const double> numbers) const;

 private:
  Family family_;
  std::optional<Kept> kept_;
  double mean_, sd_, skewness_, step_, log_mean_ = 0.0, log_sd_ = 0.0;
  double inner_lower_, inner_upper_;  ///< a support has to reach beyond these
  /// And no end of an arcsine lies within these: its density is infinite at its ends, so that the likelihood alone
  /// would put them at the extreme values.
  double outer_lower_ = std::numeric_limits<double>::infinity(), outer_upper_ = -outer_lower_;
  std::string_view obstacle_;
};

}  // namespace mintspread::measured
