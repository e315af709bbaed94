#pragma once

#include <limits>
#include <memory>
#include <string>
#include <variant>
#include <vector>

namespace mintspread::sampling {

// The shapes describe a *deviation* from the nominal value of a quantity, in its SI unit, or as a fraction of the
// nominal where the component that carries the shape says so. All parameters are finite; constraints stand beside them.

struct Normal {
  double sd;  ///< >= 0
};
/// Normal about zero cut at [lower, upper]; a perfect gauge removes the rest, and something has to be left.
struct TruncatedNormal {
  double sd, lower, upper;
};
/// Two half normals joined at zero with equal density there (mode at zero).
struct TwoPieceNormal {
  double sd_below, sd_above;  ///< >= 0
};
/// scale * (exp(log_sd * z) - 1): lognormal with median `scale`, told as a deviation from that median.
struct Lognormal {
  double scale, log_sd;  ///< scale > 0, log_sd >= 0
};
struct Uniform {
  double lower, upper;  ///< lower <= upper, here and below
};
struct Triangular {
  double lower, mode, upper;
};
struct Arcsine {
  double lower, upper;
};
/// Student's t, scaled. Without mean up to 1 degree of freedom, without standard deviation up to 2.
struct StudentT {
  double scale, degrees_of_freedom;  ///< scale >= 0, degrees of freedom >= 0.5
};
/// Rectangle whose half-width is itself uniform in [half_width - edge, half_width + edge], centred at zero (JCGM
/// 101, 6.4.3).
struct CurvilinearTrapezoid {
  double half_width, edge;  ///< 0 <= edge < half_width
};
/// Smoothed bootstrap of measured values, told as deviations; `bandwidth` 0 gives the plain empirical quantile function
/// with linear interpolation between order statistics.
struct Measured {
  std::vector<double> sorted;  ///< ascending, at least one value
  double bandwidth;            ///< >= 0, standard deviation of the normal kernel
};
struct Mixture;
struct Truncated;

using Shape =
    std::variant<Normal, TruncatedNormal, TwoPieceNormal, Lognormal, Uniform, Triangular, Arcsine, StudentT,
                 CurvilinearTrapezoid, Measured, std::shared_ptr<const Mixture>, std::shared_ptr<const Truncated>>;

struct Mixture {
  struct Part {
    double weight;  ///< > 0; the weights sum to 1
    double shift;   ///< added to the part's deviation
    Shape shape;
  };
  std::vector<Part> parts;
};

/// Any other shape cut at [lower, upper], lower < upper with some of the shape between: a perfect gauge removes the
/// rest. (A normal cut so is TruncatedNormal.)
struct Truncated {
  Shape shape;
  double lower, upper;
};

/// What makes `shape` impossible ("a standard deviation must not be negative"), for the user; empty when it is a
/// distribution.
std::string flaw_of(const Shape& shape);

/// `shape` with all deviations multiplied by a positive factor.
Shape scaled(const Shape& shape, double factor);

/// Smallest and largest possible value of a deviation; infinite where there is none.
struct Support {
  double lower = -std::numeric_limits<double>::infinity();
  double upper = std::numeric_limits<double>::infinity();
  bool operator==(const Support&) const = default;
};

/// Probability that a flawless shape lies in `kept`, its ends included: the yield of a perfect gauge.
double kept_fraction(const Shape& shape, Support kept);

}  // namespace mintspread::sampling
