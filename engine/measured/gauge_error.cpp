#include "engine/measured/gauge_error.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>

#include "engine/base/contract.hpp"

namespace mintspread::measured {

TrueSpread true_spread(double measured_variance, double error_variance) {
  return {measured_variance, error_variance, measured_variance - error_variance};
}

Range interval_left(double measured_variance, const Range& of_measured, std::span<const ErrorPart> parts,
                    double confidence) {
  const auto square = [](double x) { return x * x; };
  double left = measured_variance, down = square(measured_variance - of_measured.lower),
         up = square(of_measured.upper - measured_variance);
  for (const ErrorPart& part : parts) {
    left -= part.variance;
    if (!(part.freedom > 0.0)) continue;
    const boost::math::chi_squared law(part.freedom);
    const double beyond = 0.5 * (1.0 - confidence);
    const double scaled = part.freedom * part.variance;
    down += square(scaled / quantile(law, beyond) - part.variance);
    up += square(part.variance - scaled / quantile(complement(law, beyond)));
  }
  return {std::max(0.0, left - std::sqrt(down)), std::max(0.0, left + std::sqrt(up))};
}

std::optional<double> shrinkage(double measured_variance, double error_variance) {
  if (!(measured_variance > error_variance)) return std::nullopt;
  return std::sqrt(1.0 - error_variance / measured_variance);
}

std::optional<Placed> without_error(const Placed& placed, double error_variance) {
  if (error_variance == 0.0) return placed;
  const Curve curve(placed);
  const double mean = curve.mean(), variance = curve.sd() * curve.sd();
  const auto factor = shrinkage(variance, error_variance);
  if (!factor) return std::nullopt;
  if (std::holds_alternative<sampling::Lognormal>(placed.deviation)) {
    const double log_variance = std::log1p((variance - error_variance) / (mean * mean));
    const double median = mean * std::exp(-0.5 * log_variance);
    return Placed{median, sampling::Lognormal{median, std::sqrt(log_variance)}};
  }
  if (const auto* mixture = std::get_if<std::shared_ptr<const sampling::Mixture>>(&placed.deviation)) {
    sampling::Mixture parts = **mixture;
    bool possible = true;
    for (auto& part : parts.parts) {
      auto* normal = std::get_if<sampling::Normal>(&part.shape);
      possible = possible && normal && normal->sd * normal->sd > error_variance;
      if (possible) normal->sd = std::sqrt(normal->sd * normal->sd - error_variance);
    }
    if (possible) return Placed{placed.at, std::make_shared<const sampling::Mixture>(std::move(parts))};
  }
  return Placed{mean + *factor * (placed.at - mean), sampling::scaled(placed.deviation, *factor)};
}

Combination combine(std::span<const GaugeError> gauges) {
  expect(!gauges.empty(), "there are gauges");
  bool perfect = false;
  for (const GaugeError& gauge : gauges) perfect = perfect || gauge.error_sd() == 0.0;
  // A gauge without error leaves nothing for the others to say; several of them are equal.
  Combination out;
  double sum = 0.0;
  for (const GaugeError& gauge : gauges) {
    const double sd = gauge.error_sd();
    out.weights.push_back(perfect ? (sd == 0.0 ? 1.0 : 0.0) : 1.0 / (sd * sd));
    sum += out.weights.back();
  }
  for (double& weight : out.weights) weight /= sum;
  out.error_variance = perfect ? 0.0 : 1.0 / sum;
  return out;
}

std::vector<Disagreement> disagreements(std::span<const GaugeError> gauges, const Combination& combination,
                                        std::span<const double> mean_corrected, std::uint64_t rows, double confidence) {
  expect(gauges.size() == mean_corrected.size() && rows > 0, "every gauge has a mean over the rows");
  double mean = 0.0;
  for (std::size_t i = 0; i < gauges.size(); ++i) mean += combination.weights[i] * mean_corrected[i];
  std::vector<Disagreement> out;
  for (std::size_t i = 0; i < gauges.size(); ++i) {
    // x_i - SUM w_j x_j: the pieces cancel, what stays are the errors.
    std::vector<ErrorPart> parts;
    for (std::size_t j = 0; j < gauges.size(); ++j) {
      const double factor = (i == j ? 1.0 : 0.0) - combination.weights[j];
      const double sd = gauges[j].error_sd();
      const ErrorPart bias = gauges[j].bias_part();
      parts.push_back({factor * factor * sd * sd / static_cast<double>(rows), gauges[j].freedom});
      parts.push_back({factor * factor * bias.variance, bias.freedom});
    }
    out.push_back({mean_corrected[i] - mean, combined(parts, confidence)});
  }
  return out;
}

CombinedUncertainty uncertainty_of_mean(const ErrorPart& scatter, std::span<const GaugeError> gauges,
                                        std::span<const double> shares, double confidence) {
  expect(gauges.size() == shares.size(), "every gauge has its share");
  std::vector<ErrorPart> parts{scatter};
  for (std::size_t i = 0; i < gauges.size(); ++i) {
    const ErrorPart bias = gauges[i].bias_part();
    parts.push_back({shares[i] * shares[i] * bias.variance, bias.freedom});
  }
  return combined(parts, confidence);
}

}  // namespace mintspread::measured
