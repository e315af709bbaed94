#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"
#include "engine/sampling/draws.hpp"
#include "engine/sampling/quantile.hpp"
#include "engine/sampling/rank_correlation.hpp"
#include "engine/sampling/sobol.hpp"
#include "engine/study/model.hpp"
#include "engine/study/production_order.hpp"

namespace mintspread::study {

/// One coordinate of a run: one component of one input.
struct Factor {
  InputId input;
  std::size_t level;
  bool relative;
  std::uint64_t address;  ///< of its draws; follows from the input's path, so that editing one step leaves the others'
                          ///< draws alone
  sampling::Quantile deviation;
  std::optional<Drift> drift = {};
  std::size_t clock = 0;  ///< position of the first factor that drifts over the same campaign, which draws for all
};

enum class Design {
  flat,   ///< every piece has its own draw of every factor, whatever the level it varies at
  nested  ///< pieces in the order of production: all pieces of a unit of a group share its draw, drifts take their
          ///< course
};

/// Where the draws come from.
struct DrawSource {
  std::uint64_t seed = 0;
  std::uint32_t stream = 0;  ///< independent draws of the same quantities: matrices A and B of a pick-freeze design

  Design design = Design::flat;
  /// Of the nested design: a level whose units share all draws, those of pieces and readings too.
  std::optional<std::size_t> alike = {};
  std::uint64_t plant = 0;  ///< of the nested design: units that take turns are others in every plant
  /// Sobol' points instead of plain draws, in the flat design: a coordinate for every factor and for the side, those of
  /// stream 1 after those of stream 0; what lies beyond the points' dimensions is drawn plainly. Piece
  /// `replicate_first` is point 0 of scramble `replicate`.
  const sampling::SobolPoints* points = nullptr;
  std::uint64_t replicate = 0, replicate_first = 0;
};

/// How the inputs of a production model are drawn: constants, factors, rank correlation. Immutable.
class DrawPlan {
 public:
  /// Adds what is wrong with correlations or shapes to `problems`; the plan is then unusable.
  DrawPlan(const ProductionModel& model, std::vector<Problem>& problems);

  std::size_t inputs() const { return nominal_.size(); }
  const ProductionOrder& order() const { return order_; }
  const std::vector<Factor>& factors() const { return factors_; }

  /// The centre of every input: nominal values, SI.
  std::span<const double> nominal() const { return nominal_; }
  /// Inputs whose centre is not known.
  std::span<const InputId> unknown() const { return unknown_; }

  /// Writes one centre an input into every lane: what the inputs that do not vary stay at.
  void fill(std::span<const double> centre, Columns& out) const;

  /// Columns that deviations() fills: one a factor, then the side.
  std::size_t coordinates() const { return factors_.size() + 1; }
  /// Gives the first coordinates of the Sobol' points to the most important factors, so that what is drawn plainly for
  /// want of dimensions matters least: a figure an input, which its factors share by their variance. The side comes
  /// first of all. Returns the factors in the order of their coordinates, the side as factors().size().
  std::vector<std::size_t> order_coordinates(std::span<const double> importance_of_input);

  /// Draws of `out.lanes()` pieces from `first` on (even). Column f: deviation of factor f from its centre, relative
  /// where the factor is; last column: a uniform that decides which side is up, left alone where that is fixed.
  void deviations(const DrawSource& source, std::uint64_t first, Columns& out) const;
  /// Those of some factors only, in ascending order; the other columns are left alone. What is drawn jointly (see
  /// correlated_blocks) stands there as a whole or not at all.
  void deviations(const DrawSource& source, std::uint64_t first, std::span<const std::size_t> factors,
                  Columns& out) const;
  /// Values of the inputs that vary; column = input, the others are left alone. `centre` holds one value an input.
  /// Values beyond the physical bounds become NaN: pieces that cannot be made.
  void assemble(const Columns& deviations, std::span<const double> centre, Columns& out) const;
  /// Those of the inputs that the given factors belong to, each of whose factors is among them; the other columns are
  /// left alone.
  void assemble(const Columns& deviations, std::span<const double> centre, std::span<const std::size_t> factors,
                Columns& out) const;
  /// The factors and all others of the same inputs, in ascending order.
  std::vector<std::size_t> factors_beside(std::span<const std::size_t> factors) const;

  /// Extreme pieces for checking models over their range: lane 0 nominal, then corners at +-`reach` standard normal
  /// scores of every factor with alternating signs, unknown centres at their ends. `out` as in draw().
  void corners(double reach, Columns& out) const;

  /// `draws` sets of centres (one value an input): unknown centres from a Latin hypercube over their ranges, the others
  /// nominal.
  std::vector<std::vector<double>> outer_centres(std::uint64_t seed, std::size_t draws) const;

  /// Mean and standard deviation of an input about its nominal centre, from its shapes; bounds and correlation left
  /// aside.
  double mean_of(InputId input) const;
  double spread_of(InputId input) const;
  /// Part of an input's variance at each level it varies at; the parts sum to 1. Empty without spread.
  struct LevelPart {
    std::size_t level;
    double part;
  };
  /// Factors that are drawn jointly, by position: correlated ones, and those that drift over one campaign.
  std::vector<std::vector<std::size_t>> correlated_blocks() const;

  std::vector<LevelPart> variance_by_level(InputId input) const;

 private:
  struct Bounds {
    double smallest, largest;
  };
  void correlate(const ProductionModel& model, std::vector<Problem>& problems);
  void uniforms(const DrawSource& source, std::size_t factor, std::uint64_t first, std::span<double> out) const;
  void unit_uniforms(const DrawSource& source, std::size_t factor, std::uint64_t first, std::span<double> out) const;
  void drift_uniforms(const DrawSource& source, std::size_t factor, std::uint64_t first, std::span<double> out) const;

  std::vector<double> nominal_;
  std::vector<InputId> unknown_;
  std::vector<KnownTo> belief_;           ///< of unknown_
  std::vector<std::size_t> varying_;      ///< inputs, by position
  std::map<std::size_t, Bounds> bounds_;  ///< of the varying inputs that have any, by position
  std::vector<Factor> factors_;
  std::vector<std::size_t> all_factors_;  ///< positions 0, 1, 2, ...
  std::vector<std::uint64_t> pieces_of_level_;
  ProductionOrder order_;
  std::vector<std::size_t> coordinate_;  ///< of the Sobol' points, per factor, then of the side
  std::uint64_t side_address_;
  bool side_varies_;
  std::vector<std::size_t> correlated_;  ///< positions in factors_, in the order of the correlation matrix
  std::optional<sampling::RankCorrelation> correlation_;
};

}  // namespace mintspread::study
