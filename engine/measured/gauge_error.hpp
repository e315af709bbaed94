#pragma once

#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "engine/measured/combined_uncertainty.hpp"
#include "engine/measured/family.hpp"
#include "engine/measured/measured_result.hpp"

namespace mintspread::measured {

// What a gauge adds to what it measures. With y = x (1 + p) + b + e, e independent of x with mean 0: E y = E x (1 + p)
// + b and Var y = (1 + p)^2 Var x + Var e (closed forms of independent errors, JCGM 100:2008, 5.1.2).

struct GaugeError {
  double bias = 0.0;                   ///< b
  double proportional_bias = 0.0;      ///< p; above -1
  double repeatability = 0.0;          ///< standard deviation of one reading of one piece
  double bias_uncertainty = 0.0;       ///< standard uncertainty of the bias
  double bias_freedom = 0.0;           ///< its degrees of freedom; 0: taken as known
  double freedom = 0.0;                ///< degrees of freedom that the repeatability rests on; 0: taken as known
  std::uint64_t pieces_a_reading = 1;  ///< a reading is the mean of so many pieces (a weight gain of n blanks)

  double corrected(double reading) const { return (reading - bias) / (1.0 + proportional_bias); }
  /// Standard deviation of the error of a corrected reading.
  double error_sd() const { return repeatability / (1.0 + proportional_bias); }
  /// Part of the error that all corrected readings share.
  ErrorPart bias_part() const {
    const double uncertainty = bias_uncertainty / (1.0 + proportional_bias);
    return {uncertainty * uncertainty, bias_freedom};
  }
};

/// Spread with the gauge's error taken out. `variance` is left negative where the readings agree better than the gauge
/// can: its repeatability is then stated too large, or the readings were smoothed.
struct TrueSpread {
  double measured_variance, error_variance, variance;
};
TrueSpread true_spread(double measured_variance, double error_variance);

/// Interval for what the parts leave of a measured variance, from the interval of that variance whatever its making:
/// the squares of the distances from each estimate to the bound that moves the difference the same way add up (method
/// of variance estimates recovery: G. Y. Zou & A. Donner, Stat. Med. 27, 1693 (2008), from memory). A part's own bounds
/// are those of normal errors, freedom * variance / chi squared. Bounds below zero are zero: a variance is none.
Range interval_left(double measured_variance, const Range& of_measured, std::span<const ErrorPart> parts,
                    double confidence);

/// A fitted distribution of corrected readings without their error; nothing where its variance would not be positive.
/// Mean and variance are exact. A normal and a mixture of normals stay what they are, exactly; a lognormal keeps its
/// mean; other shapes are drawn together about their mean, which keeps the shape of the readings, not of the pieces.
std::optional<Placed> without_error(const Placed& placed, double error_variance);

/// The factor deviations of measured values from their mean are multiplied by to have the variance of what was
/// measured; nothing where that would not be positive.
std::optional<double> shrinkage(double measured_variance, double error_variance);

/// Several gauges read the same pieces (or loads). Weights 1 / repeatability^2, the least variance of a weighted mean
/// of independent readings (JCGM 100:2008, annex G; weighted mean as in P. R. Bevington, Data Reduction and Error
/// Analysis, 1969, from memory).
struct Combination {
  std::vector<double> weights;  ///< sum 1
  double error_variance = 0.0;  ///< of the weighted mean
};
Combination combine(std::span<const GaugeError> gauges);

/// How far a gauge's mean lies from the weighted mean of all over the rows that all of them read, with the uncertainty
/// of that difference if the biases are as stated.
struct Disagreement {
  double difference;
  CombinedUncertainty uncertainty;
};
std::vector<Disagreement> disagreements(std::span<const GaugeError> gauges, const Combination& combination,
                                        std::span<const double> mean_corrected, std::uint64_t rows, double confidence);

/// Of the mean of corrected values: how they scatter, and the biases of the gauges, each with its share in the values.
CombinedUncertainty uncertainty_of_mean(const ErrorPart& scatter, std::span<const GaugeError> gauges,
                                        std::span<const double> shares, double confidence);

}  // namespace mintspread::measured
