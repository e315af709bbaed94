#pragma once

#include <span>

namespace mintspread::measured {

/// Part of an error variance, with the degrees of freedom that it was found from; 0: known.
struct ErrorPart {
  double variance, freedom;
};

struct CombinedUncertainty {
  double standard = 0.0;
  double freedom = 0.0;   ///< effective degrees of freedom; 0: known
  double expanded = 0.0;  ///< half of the interval's width
};

/// Of a sum of independent parts. Its variance is taken to be that of as many readings as have the variance of its
/// estimate, standard^4 / freedom = sum of variance^2 / freedom over the parts (formula of Welch and Satterthwaite,
/// JCGM 100:2008, G.4.1), and the deviation divided by it to follow Student's t (G.3.2), a normal where all is known.
/// Degrees of freedom are at least 1, and not rounded.
CombinedUncertainty combined(std::span<const ErrorPart> parts, double confidence);

}  // namespace mintspread::measured
