#pragma once

#include <array>
#include <cstddef>
#include <memory>
#include <span>

#include "engine/materials/diffusion_pair.hpp"

namespace mintspread::materials {

/// Properties of a metal as a layer has them, at 20 C.
struct Properties {
  double conductivity, permeability, temperature_coefficient;
};

/// One sublayer of a blurred boundary.
struct Sublayer {
  double of_slow, of_quick;  ///< m of the one and of the other layer that it takes the place of
  Properties metal;
  double thickness() const { return of_slow + of_quick; }
};

/// The boundary of two layers after they diffused into each other, as sublayers, from the metal in which the other
/// diffuses more slowly (DiffusionPair::slow) to the quicker one. The boundary reaches as far as the diffusion:
/// slow_reach() into the slow layer, quick_reach sqrt(INT D dt in it) into the quick one, or to where that is sealed
/// (its surface, or the middle between two blurred boundaries). Compositions come from a table of Couple's solution
/// over the ratio of the two coefficients (that of the whole anneal) and the depth of the quick layer; the slow one
/// must be deeper than its side reaches.
///
/// A field that changes little across the boundary sees moments: INT f x^n dx of permeability and conductivity. Where
/// the alloy is magnetic, three sublayers have its permeability's moments up to n = 4 and its conductivity's up to 2;
/// where it is not, two sublayers have its conductivity's up to 2. Of a pair that is not magnetic the far part of the
/// slow side is cut as the magnetic zone is. INT dx / mu is right as well. What the layers' own resistivities have
/// beyond the pure metals' (grain, additives, recovery) is shared by composition (Matthiessen's rule), as is the change
/// of resistivity with temperature.
class BlurredBoundary {
  struct Row;  ///< where in a row of the table a figure stands
  static constexpr std::size_t row = 44;

 public:
  static constexpr double quick_reach = 6.0;
  /// sqrt(INT D dt) in the quick metal is this part of its depth at most.
  static constexpr double most_spread = 1.5;
  /// Of the two coefficients, slow over quick; a pair that goes below is followed from here on.
  static constexpr double least_ratio = 1e-3;
  /// DiffusionPair::magnetic_until is below; at the first boundary some half of the atoms or more are quick.
  static constexpr double most_magnetic = 0.45;
  static constexpr std::size_t magnetic_cells = 3, other_cells = 2, cells = magnetic_cells + other_cells;

  /// The table is made on first use (some 0.1 s), by whichever thread comes first.
  explicit BlurredBoundary(DiffusionPair pair);
  ~BlurredBoundary();

  /// Of copper and nickel.
  static const BlurredBoundary& of_copper_and_nickel();

  const DiffusionPair& pair() const { return pair_; }

  /// How far the slow side reaches, m: beyond, less than 3e-5 is of the other metal. Far slower a metal takes the other
  /// in behind a front, which keeps up with what happens in the quick one.
  static double slow_reach(double in_quick, double in_slow);

  /// Composition across a boundary, whatever else the two metals have.
  class Profile {
    friend class BlurredBoundary;
    double reach, gap, quick_side;  ///< m; on the slow side, and of that what is not magnetic
    alignas(32) std::array<double, row> figures;
  };

  /// `in_quick` and `in_slow` are INT D dt of the dilute other metal, m2; `quick_depth` is what the quick layer offers
  /// to this boundary, m. False where that layer is all but mixed (depth under 2/3 sqrt(in_quick)), or has taken in so
  /// much of a magnetic metal that the first boundary is magnetic.
  bool diffuse(double in_quick, double in_slow, double quick_depth, Profile& to) const;

  /// Writes `cells` sublayers. False, and nothing written, where the slow layer (`slow_depth` of it, m) is too thin for
  /// its side.
  bool cut(const Profile& profile, double slow_depth, const Properties& slow, const Properties& quick,
           std::span<Sublayer> out) const;

 private:
  struct Table;
  const Table& table() const;
  DiffusionPair pair_;
  std::unique_ptr<Table> table_;
};

}  // namespace mintspread::materials
