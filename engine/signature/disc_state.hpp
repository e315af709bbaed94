#pragma once

#include <complex>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/signature/disc.hpp"
#include "engine/signature/placed_stack.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// A finite coin in a slot.
struct PlacedDisc {
  Disc disc;
  std::vector<DiscCoil> coils;  ///< in the sensor's order
};

/// The numbers that the reading of a finite coin in a slot depends on, column by column: of every plating its thickness
/// on the face and on the rim, conductivity and permeability; of the core the latter two; diameter, field thickness,
/// rim width and the rim's heights above and below as the coin lies; how far the rim is from the wall it rests on and
/// from the other; the recess of each coil. SI units; conductivities at the temperature of the slot.
///
/// Platings are taken from the core outwards, pair by pair; a metal that stands at the same depth on both faces is one
/// layer about the whole coin, with its own thickness on the rim. Two metals of a pair are two layers, each on its
/// face, and both on the rim. A rim's tops carry the plating of the field: the block knows no other. Sublayers that the
/// construction joins are one plating, as thick as all of them, with means over the face's thickness: this tells what a
/// rim changes, and the planar solution has every one of them.
class DiscState {
 public:
  /// `up`: the side that lies upwards, obverse or reverse.
  DiscState(const coin::Construction& construction, const Sensor& sensor, SideUp up);

  std::size_t count() const { return names_.size(); }
  /// "copper, thickness on the rim".
  const std::string& name(std::size_t column) const { return names_[column]; }
  /// Least value that makes sense: 1 for permeabilities, else 0.
  double least(std::size_t column) const { return least_[column]; }

  /// Whether a column is a plating's thickness, on face or rim: what wears.
  bool thickness_of_plating(std::size_t column) const;

  /// One column of `out` each. In lanes with 1 in `reversed` the rim's heights are swapped: a section that reads the
  /// same from both faces needs no more to be turned over. `recess` has one column a coil. NaN stays NaN.
  void write(const coin::CoinBlock& coins, const SlotColumns& slot, std::span<const std::uint8_t> reversed,
             std::span<const std::span<const double>> recess, Columns& out) const;

  /// What cannot exist (disc_fault) is passed on as it is.
  PlacedDisc place(std::span<const double> state) const;

  /// From derivatives by the numbers of the disc to those by the state's columns.
  std::vector<std::complex<double>> slopes(const DiscGradient& gradient) const;

  /// The same coin without its rim, as the planar solution sees it: `layers` from the face that looks at `from` on.
  struct Flat {
    std::vector<double> thickness, conductivity, permeability;
    double distance;  ///< as PlanarBlock has it
  };
  Flat flat(std::span<const double> state, std::size_t drive, std::size_t receive) const;

 private:
  struct Plating {
    std::size_t metal;
    bool up, down;  ///< the faces that carry it
  };
  std::size_t of_plating(std::size_t metal) const;
  void join(std::span<const std::size_t> metals, const coin::CoinBlock& coins, const SlotColumns& slot,
            std::size_t first, Columns& out) const;
  double to_field(std::span<const double> state, std::size_t coil) const;

  coin::Construction construction_;  ///< the section as the coin lies, from above
  bool turned_;
  Rest rest_;
  std::vector<MountedCoil> coils_;
  std::vector<std::size_t> metals_;               ///< platings, in the order of their columns
  std::vector<std::vector<std::size_t>> joined_;  ///< the metals of each of them, one or more
  std::vector<Plating> platings_;                 ///< of the disc, from the outside in
  std::size_t core_, shape_, gaps_, recess_;      ///< first columns
  std::vector<std::string> names_;
  std::vector<double> least_;
};

}  // namespace mintspread::signature
