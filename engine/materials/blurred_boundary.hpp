#pragma once

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
  double thickness;
  Properties metal;
};

/// The boundary of two layers after they diffused into each other, as sublayers, from the metal in which the other
/// diffuses more slowly (DiffusionPair::slow) to the quicker one. Widths follow the diffusion: the slow side reaches
/// slow_reach() from the first boundary, the quick side quick_reach sqrt(INT D dt in it), or to where the quick layer
/// is sealed (its surface, or the middle between two blurred boundaries). Compositions come from a table of Couple's
/// solution over the ratio of the two coefficients (that of the whole anneal) and the depth of the quick layer; the
/// slow one must be deeper than its side reaches.
///
/// A sublayer conducts as its composition does on average over its thickness, and is magnetic likewise; its neighbours
/// take a little from each other, so that the boundary holds what it holds where it holds it (first moments). What the
/// layers' own resistivities have beyond the pure metals' (grain, additives, recovery) is shared by composition
/// (Matthiessen's rule), as is the change of resistivity with temperature.
class BlurredBoundary {
 public:
  static constexpr double quick_reach = 6.0;
  /// sqrt(INT D dt) in the quick metal is this part of its depth at most.
  static constexpr double most_spread = 1.5;
  /// Of the two coefficients, slow over quick; a pair that goes below is followed from here on.
  static constexpr double least_ratio = 1e-3;
  /// DiffusionPair::magnetic_until is below; at the first boundary some half of the atoms or more are quick.
  static constexpr double most_magnetic = 0.45;
  static constexpr std::size_t slow_cells = 4, quick_cells = 4, cells = slow_cells + quick_cells;

  /// The table is made on first use (some 0.3 s), by whichever thread comes first.
  explicit BlurredBoundary(DiffusionPair pair);
  ~BlurredBoundary();

  /// Of copper and nickel.
  static const BlurredBoundary& of_copper_and_nickel();

  const DiffusionPair& pair() const { return pair_; }

  /// How far the slow side reaches, m: beyond, less than 3e-5 is of the other metal. Far slower a metal takes the other
  /// in behind a front, which keeps up with what happens in the quick one.
  static double slow_reach(double in_quick, double in_slow);

  /// Writes `cells` sublayers. `in_quick` and `in_slow` are INT D dt of the dilute other metal, m2; `quick_depth` and
  /// `slow_depth` what each layer offers to this boundary, m. False, and nothing written, where the slow one is too
  /// thin for its side or the quick one is all but mixed (depth under 2/3 sqrt(in_quick)).
  bool fill(double in_quick, double in_slow, double quick_depth, double slow_depth, const Properties& slow,
            const Properties& quick, std::span<Sublayer> out) const;

 private:
  struct Table;
  const Table& table() const;
  DiffusionPair pair_;
  std::unique_ptr<Table> table_;
};

}  // namespace mintspread::materials
