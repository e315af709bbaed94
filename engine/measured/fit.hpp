#pragma once

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "engine/measured/family.hpp"
#include "engine/statistics/intervals.hpp"

namespace mintspread::measured {

/// How a probability of a worse fit was found.
enum class Judged {
  not_judged,
  formula,   ///< of D'Agostino & Stephens for normal values with both parameters estimated
  simulated  ///< as many values drawn from the fitted law, rounded and fitted alike
};

/// Probabilities of the quantiles that are told of each shape.
inline constexpr std::array<double, 3> told_quantiles{0.00135, 0.5, 0.99865};

/// One shape fitted by maximum likelihood.
struct ShapeFit {
  Family family = Family::normal;
  std::string obstacle;  ///< why it was not fitted; the rest is then empty
  Placed placed;
  std::size_t estimated = 0;  ///< numbers estimated from the data
  double mean = 0.0, sd = 0.0;
  double log_likelihood = 0.0;
  /// 2 k - 2 ln L + 2 k (k + 1) / (n - k - 1), k counting sharp ends twice (N. Sugiura, Commun. Stat. A7, 13 (1978); C.
  /// M. Hurvich & C.-L. Tsai, Biometrika 76, 297 (1989)).
  double aicc = 0.0;
  std::optional<double> a_squared;  ///< Anderson-Darling; none with censored readings
  std::optional<double> p_value;    ///< probability of a larger one if the shape is right
  Judged judged = Judged::not_judged;
  /// 95 % intervals of told_quantiles if the shape is right; none where it was not simulated.
  std::optional<std::array<statistics::Interval, 3>> reach;
};

struct FitOptions {
  std::optional<Kept> kept = {};
  std::size_t draws = 199;  ///< samples behind each simulated probability; 0: none
  std::uint64_t seed = 1;
};

/// Shapes further than this from the best criterion are not simulated: the criterion has judged them.
inline constexpr double simulated_within = 10.0;
/// With more values than this no probability of a worse fit is simulated: with so many, every shape that is only nearly
/// right shows as wrong.
inline constexpr std::uint64_t most_simulated_values = 2000;

enum class Effort { full, quick };

/// Largest likelihood of one family. Normal and lognormal in closed form (divisor n) where nothing was rounded or
/// censored, uniform in closed form where nothing was censored; otherwise by the simplex search of J. A. Nelder & R.
/// Mead, Comput. J. 7, 308 (1965), as in NLopt, from several starts. The ends of a uniform are then moved out by
/// range / (n - 1), which takes the bias from them. Needs two
/// different values.
ShapeFit fit_shape(Family family, const Observations& observations, std::optional<Kept> kept = {},
                   Effort effort = Effort::full);

/// The statistic of Anderson and Darling of rounded or unrounded values, none of them censored.
double anderson_darling_of(const Curve& curve, const Observations& observations);

/// All families, best criterion first, those with an obstacle last. A curvilinear trapezoid, a mixture and so on that
/// cannot be told from a simpler shape simply ranks behind it.
std::vector<ShapeFit> fit_shapes(const Observations& observations, const FitOptions& options);

}  // namespace mintspread::measured
