#pragma once

#include <complex>
#include <cstddef>
#include <memory>
#include <span>
#include <vector>

#include "engine/base/columns.hpp"

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

/// The products of coordinates that a surface is a sum of: 1, every u_i, every u_i u_j; products of higher degree, up
/// to the eighth, among coordinates that pieces fill from end to end; u_i u_j u_k among those and others that bend
/// most.
class SurfaceTerms {
 public:
  /// Positions in rising order, those of `filled` among those of `cubic` as well.
  explicit SurfaceTerms(std::size_t dimensions, std::span<const std::size_t> cubic = {},
                        std::span<const std::size_t> filled = {});

  std::size_t dimensions() const { return dimensions_; }
  std::size_t size() const { return terms_.size(); }
  const std::vector<std::size_t>& cubic() const { return cubic_; }

  /// One number a term.
  void values(std::span<const double> u, std::span<double> out) const;
  /// Their derivatives by coordinate `by`.
  void slopes(std::span<const double> u, std::size_t by, std::span<double> out) const;
  /// Of many points at once: one column a coordinate, one a term, that of term t in column place[t].
  void values(const Columns& u, std::span<const std::size_t> place, Columns& out) const;

 private:
  /// A term is an earlier one times a coordinate; the first is 1.
  struct Term {
    std::size_t of, by;
  };
  std::size_t dimensions_;
  std::vector<std::size_t> cubic_, filled_;
  std::vector<Term> terms_;
};

/// A polynomial in coordinates u that run from -1 to 1 over the box in which it was made.
struct ResponseSurface {
  SurfaceForm form = SurfaceForm::direct;
  std::vector<std::complex<double>> coefficients;  ///< of the terms of its design
  /// Of the value, at points that the fit did not see (five-fold), absolute: root mean square over the inner points, of
  /// it the real and the imaginary part, and the largest of all points.
  double held_out_rms = 0.0, held_out_real = 0.0, held_out_imag = 0.0, held_out_worst = 0.0;
  std::size_t support_points = 0;

  /// NaN outside the box widened by `margin` of its half width: a polynomial is no guide there.
  std::complex<double> at(const SurfaceTerms& terms, std::span<const double> u, std::complex<double> reference,
                          double margin = 0.0) const;
};

/// The value of a surface from its sum of terms and the reference.
std::complex<double> surface_value(SurfaceForm form, std::complex<double> sum, std::complex<double> reference);

/// Support points shared by many quantities: factors of the least-squares problems, all points and five times four
/// fifths of them.
///
/// With slopes each point counts 1 + dimensions times, half as much for a slope as for a value: what a quadratic leaves
/// out, mostly cubic, shows in slopes three times as large. Points should fill the box evenly (quasi-random ones do).
class SurfaceDesign {
 public:
  enum class Slopes { without, with };
  static constexpr std::size_t folds = 5;

  /// The first `inner` points (0: all) stand for what will be asked, the others only hold the surface from outside.
  /// `weights` (empty: all 1) tell how much each point counts in the least squares. Breaks the contract unless four
  /// fifths of the points give at least 1.2 rows a coefficient.
  SurfaceDesign(std::vector<std::vector<double>> points, Slopes slopes, SurfaceTerms terms, std::size_t inner = 0,
                std::vector<double> weights = {});
  ~SurfaceDesign();
  SurfaceDesign(SurfaceDesign&&) noexcept;
  SurfaceDesign& operator=(SurfaceDesign&&) noexcept;

  /// Points needed for such terms.
  static std::size_t fewest_points(const SurfaceTerms& terms, Slopes slopes);

  const SurfaceTerms& terms() const;

  /// The form with the least held-out error, fitted to all points. Samples in the order of the points. NaN or infinity
  /// in a sample makes the whole surface NaN: a solve that failed is never passed over.
  ResponseSurface fit(std::span<const SurfaceSample> samples) const;

 private:
  struct Factors;
  std::unique_ptr<const Factors> factors_;
};

}  // namespace mintspread::statistics
