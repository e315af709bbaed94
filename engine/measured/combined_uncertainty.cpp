#include "engine/measured/combined_uncertainty.hpp"

#include <boost/math/distributions/normal.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

namespace mintspread::measured {

CombinedUncertainty combined(std::span<const ErrorPart> parts, double confidence) {
  double variance = 0.0, of_estimate = 0.0;
  for (const ErrorPart& part : parts) {
    variance += part.variance;
    if (part.freedom > 0.0) of_estimate += part.variance * (part.variance / part.freedom);
  }
  CombinedUncertainty out;
  out.standard = std::sqrt(variance);
  if (of_estimate > 0.0) out.freedom = variance * (variance / of_estimate);
  const double beyond = 0.5 * (1.0 - confidence);
  const double factor = out.freedom > 0.0 ? quantile(complement(boost::math::students_t(out.freedom), beyond))
                                          : quantile(complement(boost::math::normal(), beyond));
  out.expanded = factor * out.standard;
  return out;
}

}  // namespace mintspread::measured
