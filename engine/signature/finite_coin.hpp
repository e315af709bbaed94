#pragma once

#include <complex>
#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/signature/disc_state.hpp"
#include "engine/statistics/response_surface.hpp"

namespace mintspread::signature {

class PreparedSensor;

/// Range of one column of a finite coin's state, about which its readings are told by a polynomial.
///
/// The coordinate u runs from -1 to 1. Where a column is `relative` it is u = 2 (x - centre) / (x + centre) /
/// half_width, which is log(x / centre) / half_width up to the third order; else (x - centre) / half_width. A half
/// width of 0 is a constant. A wide range that is `filled` has pieces from end to end rather than about its centre, as
/// what is left of a worn layer: readings need not be monotonic in it.
struct StateRange {
  double centre = 0.0, half_width = 0.0;
  bool relative = false, filled = false;

  double coordinate(double x) const;
  double value(double u) const;  ///< of the column at a coordinate
  double slope(double u) const;  ///< d value / d u
  bool operator==(const StateRange&) const = default;
};

/// The filled ones among the ranges that vary.
std::vector<std::size_t> filled_coordinates(std::span<const StateRange> box);

/// What the finite disc adds to the planar readings of one sensor, fast enough for every piece: a response surface for
/// each mutual inductance and each gate voltage over a box of states. Immutable.
///
/// A surface is fitted to solutions of the disc and their gradients and takes the best of three forms, ratio to the
/// planar value, difference to it, or the value itself (response_surface.hpp). Terms that together move no value by
/// more than a tenth of its surface's error are left out.
class FiniteCoin {
 public:
  /// Buffers of one thread.
  struct Scratch {
    Columns state, coordinates, terms, sums;
  };

  std::span<const StateRange> box() const { return box_; }
  const DiscState& state() const { return state_; }
  /// Mutual inductances (H) group by group and frequency by frequency, then gate voltages per ampere (V).
  const std::vector<statistics::ResponseSurface>& surfaces() const { return surfaces_; }
  /// Estimated relative error of the disc solution at the centre of the box, of each quantity.
  std::span<const double> solver_error() const { return solver_error_; }
  /// Solutions of the disc that the surfaces stand on, and how many of them failed and were left out.
  std::size_t solutions() const { return solutions_; }
  std::size_t failed() const { return failed_; }

  Scratch scratch(std::size_t lanes) const;

  /// Turns planar values into those of the finite coin, in place: `mutual` has two columns a frequency for each
  /// harmonic group, `voltages` one a gate for each decay group. scratch.state holds the state. Lanes outside the box
  /// get 1 in `outside` and are read at the nearest coordinate inside; their planar part is their own. Lanes where
  /// `skip` (empty: none) is 1 are left alone. No allocation; NaN gives NaN.
  void correct(Scratch& scratch, std::vector<Columns>& mutual, std::vector<Columns>& voltages,
               std::span<const std::uint8_t> skip, std::span<std::uint8_t> outside) const;

  /// All that was computed, as bytes for the machine that made them, and back. Nothing when the bytes do not fit.
  std::string bytes() const;
  static std::shared_ptr<const FiniteCoin> from_bytes(std::string_view bytes, DiscState state);

 private:
  friend class FiniteCoinPlan;
  FiniteCoin(DiscState state, std::vector<StateRange> box, statistics::SurfaceTerms terms,
             std::vector<statistics::ResponseSurface> surfaces);

  DiscState state_;
  std::vector<StateRange> box_;
  std::vector<std::size_t> varying_;
  statistics::SurfaceTerms terms_;
  std::vector<statistics::ResponseSurface> surfaces_;
  std::vector<double> solver_error_;
  std::size_t solutions_ = 0, failed_ = 0;
  std::vector<std::size_t> place_;    ///< of each term among the columns: those that count come first
  std::size_t counting_ = 0;          ///< terms that some surface has
  std::vector<double> coefficients_;  ///< of those terms, (real, imaginary) of every surface, column by column
};

/// The finite coins of a sensor, by the side that is up. A section that reads the same from both faces needs one,
/// `obverse_up`; none: coins are taken as unlimited.
struct FiniteCoins {
  std::shared_ptr<const FiniteCoin> obverse_up, reverse_up;
  bool any() const { return obverse_up || reverse_up; }
};

/// The solutions a FiniteCoin needs, one a support point; they may be computed in any order, on any thread.
class FiniteCoinPlan {
 public:
  /// `points`: coordinates of the columns that vary, from -1 to 1; the first is the centre, the first half lies where
  /// pieces do and tells the error of the surfaces. `sensor` must outlive it.
  FiniteCoinPlan(const PreparedSensor& sensor, SideUp up, std::vector<StateRange> box,
                 std::vector<std::vector<double>> points);

  /// Support points that the coordinates of a box need.
  static std::size_t points_for(std::span<const StateRange> box);

  std::size_t points() const { return points_.size(); }
  std::size_t frequencies() const { return s_.size(); }  ///< complex frequencies solved at each point

  struct Solution {
    std::vector<statistics::SurfaceSample> samples;  ///< one a quantity
    std::vector<double> error;                       ///< estimated, relative; at the first point only
    std::string fault;                               ///< why the disc could not be solved; empty if it was
  };
  Solution solve(std::size_t point) const;

  /// Throws InvalidSpecification when more than a tenth of the solutions failed. Solutions in the order of the points.
  std::shared_ptr<const FiniteCoin> fit(std::vector<Solution> solutions) const;

 private:
  std::vector<double> state_at(std::span<const double> u) const;
  std::vector<std::complex<double>> flat_values(std::span<const std::vector<double>> states) const;
  std::shared_ptr<const FiniteCoin> finished(statistics::SurfaceTerms terms,
                                             std::vector<statistics::ResponseSurface> surfaces,
                                             std::vector<double> solver_error, std::size_t solutions,
                                             std::size_t failed) const;

  const PreparedSensor& sensor_;
  DiscState state_;
  std::vector<StateRange> box_;
  std::vector<std::size_t> varying_;
  std::vector<std::vector<double>> points_;
  std::vector<std::complex<double>> s_;  ///< of all harmonic groups and contours, each once
};

}  // namespace mintspread::signature
