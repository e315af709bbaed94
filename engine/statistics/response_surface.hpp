#pragma once

#include <complex>
#include <cstddef>
#include <memory>
#include <span>
#include <vector>

namespace mintspread::statistics {

/// What is fitted: the value over a cheap reference, their difference, or the value itself. The first two carry over
/// what the reference knows already; the last serves where the reference is meaningless.
enum class SurfaceForm { ratio, difference, direct };

/// One complex quantity at one support point: its value and that of the reference, and how both change with each
/// coordinate (empty when unknown).
struct SurfaceSample {
  std::complex<double> value, reference;
  std::vector<std::complex<double>> value_slopes, reference_slopes;
};

/// A full quadratic in coordinates u that run from -1 to 1 over the box in which it was made.
struct ResponseSurface {
  SurfaceForm form = SurfaceForm::direct;
  std::vector<std::complex<double>> coefficients;  ///< of 1, u_i, u_i u_j (i <= j) in rising order
  /// Of the value, at points that the fit did not see (five-fold): root mean square and largest, absolute.
  double held_out_rms = 0.0, held_out_worst = 0.0;
  std::size_t support_points = 0;

  /// NaN outside the box widened by `margin` of its half width: a quadratic is no guide there.
  std::complex<double> at(std::span<const double> u, std::complex<double> reference, double margin = 0.0) const;
};

std::size_t surface_coefficients(std::size_t dimensions);

/// Support points shared by many quantities: factors of the least-squares problems, all points and five times four
/// fifths of them.
///
/// With slopes each point counts 1 + dimensions times, half as much for a slope as for a value: what a quadratic leaves
/// out, mostly cubic, shows in slopes three times as large. Points should fill the box evenly (quasi-random ones do).
class SurfaceDesign {
 public:
  enum class Slopes { without, with };
  static constexpr std::size_t folds = 5;

  /// Breaks the contract unless four fifths of the points give at least 1.2 rows a coefficient.
  SurfaceDesign(std::vector<std::vector<double>> points, Slopes slopes);
  ~SurfaceDesign();
  SurfaceDesign(SurfaceDesign&&) noexcept;
  SurfaceDesign& operator=(SurfaceDesign&&) noexcept;

  /// Points needed for so many coordinates.
  static std::size_t fewest_points(std::size_t dimensions, Slopes slopes);

  /// The form with the least held-out error, fitted to all points. Samples in the order of the points. NaN or infinity
  /// in a sample makes the whole surface NaN: a solve that failed is never passed over.
  ResponseSurface fit(std::span<const SurfaceSample> samples) const;

 private:
  struct Factors;
  std::unique_ptr<const Factors> factors_;
};

}  // namespace mintspread::statistics
