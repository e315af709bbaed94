#pragma once

#include <cstddef>
#include <cstdint>
#include <memory>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/base/problem.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/signature/finite_coin.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::signature {

/// `nominal`: the coin's own reading: slot, temperature and side up as nominal, no noise, no resolution.
/// `drawn`: the reading a machine gives: everything as drawn. `unrounded`: the same before it is rounded to its
/// resolution.
enum class Conditions { nominal, unrounded, drawn };

/// What a sensor tells about a block of pieces.
struct Readings {
  static constexpr std::uint8_t no_piece = 2;
  Readings(std::size_t channels, std::size_t lanes) : values(channels, lanes), unsolved(lanes), outside(lanes) {}

  /// [channel][lane] in the unit of the channel. NaN: undefined (an apparent conductivity that does not exist, the
  /// logarithm of a negative channel), or the lane is unsolved.
  Columns values;
  /// [lane] 1 where the model failed: no coin (NaN diameter), a coin that does not fit the slot, an impossible
  /// temperature; `no_piece` where others say that no piece is there to be read. All channels of such a lane are NaN.
  std::vector<std::uint8_t> unsolved;
  /// [lane] 1 where the coin or its place is beyond what the finite coin was solved for; it is read all the same.
  std::vector<std::uint8_t> outside;
};

/// Impedance of one pair of coils at the nominal coin, at a frequency that some channel uses.
struct NominalImpedance {
  std::size_t drive, receive;                          ///< positions in Sensor::coils
  double frequency;                                    ///< Hz
  double resistance, reactance;                        ///< ohm; change against air, or total for through-transmission
  double normalised_resistance, normalised_reactance;  ///< by the reactance in air; NaN for through-transmission
  bool through;
};

/// Voltage of one decay channel at the nominal coin, before scale and unit.
struct NominalDecay {
  std::size_t drive, receive;
  double time, width, ramp, current;
  double voltage;  ///< V
};

/// "reactance at 240 kHz, coil face": what a channel is, for people.
std::string describe(const Sensor& sensor, const Channel& channel);

enum class CoinModel { planar, finite };

/// "planar", "finite coin", "dimension" or "expression": what computes a channel.
const char* model_of(const Channel& channel, CoinModel model);

/// Everything wrong with a sensor that can be told without a coin: coils, frequencies, gates, scales, expressions.
std::vector<Problem> check_sensor(const Sensor& sensor);

/// A sensor made ready for the coins of one study. Immutable; safe to use from many threads, each with its own
/// Workspace.
///
/// The coin lies between the walls against the wall it rests on, with play; coils stand at fixed places behind the
/// walls and see the field, which lies below the rim. A reversed coin has its layers and rim heights swapped.
/// Conductivities are those at the temperature of the reading, sigma20 / (1 + alpha (T - 20 C)); permeability is taken
/// as independent of temperature. Without finite coins the stack is of unlimited width (planar solution), and marks()
/// says where that is known to be wrong. Apparent conductivity is told at the distance of the nominal coin's field, so
/// that a thick non-magnetic coin of nominal size reads its own conductivity.
class SensorModel {
 public:
  /// Buffers of one thread; belongs to the model that made it.
  class Workspace {
   public:
    ~Workspace();
    Workspace(Workspace&&) noexcept;
    Workspace& operator=(Workspace&&) noexcept;

   private:
    friend class SensorModel;
    struct Buffers;
    explicit Workspace(std::unique_ptr<Buffers> buffers);
    std::unique_ptr<Buffers> buffers_;
  };

  /// `coins` and `inputs` are what the quadrature rules are made and checked for: lane 0 the nominal piece under
  /// nominal conditions, the others corners of what production will ask (copies of the nominal will do to fill up).
  /// `inputs` has a column per input of the production model, addressed by index(InputId), and the lanes of `coins`.
  /// `tolerance` is that of the impedance (norms in planar.hpp); decay voltages hold 1e-4 (decay.hpp).
  /// Throws InvalidSpecification with every problem found: those of check_sensor, a nominal coin that does not fit the
  /// slot, an apparent conductivity that the nominal coin does not have (naming the first frequency that has one),
  /// reference pieces that a channel cannot tell apart.
  SensorModel(Sensor sensor, const coin::CoinBlock& coins, const Columns& inputs, double tolerance = 1e-6,
              FiniteCoins finite = {});
  ~SensorModel();
  SensorModel(SensorModel&&) noexcept;
  SensorModel& operator=(SensorModel&&) noexcept;

  const Sensor& sensor() const;
  CoinModel coin_model() const;
  const FiniteCoins& finite() const;
  /// For a FiniteCoinPlan of this sensor.
  const PreparedSensor& prepared() const;

  /// Buffers for blocks of `lanes`.
  Workspace workspace(std::size_t lanes = block_lanes) const;

  /// Reads a block. `inputs` as above; `side` holds a uniform in (0, 1) per lane when the slot's side up is `either`
  /// (below 0.5: obverse) and may be empty otherwise. The same block reads the same bits, on any thread; among other
  /// neighbours a piece reads the same to within the tolerance, because the planar solution takes its shortcuts by
  /// block.
  void read(const coin::CoinBlock& coins, const Columns& inputs, std::span<const double> side, Conditions conditions,
            Workspace& workspace, Readings& out) const;

  /// Of the block that was last read with this workspace: impedance in every lane (ohm, as NominalImpedance has it) of
  /// a row of nominal_impedances(), and voltage (V) of a row of nominal_decays(). NaN in unsolved lanes.
  void last_impedance(const Workspace& workspace, std::size_t row, std::span<double> resistance,
                      std::span<double> reactance) const;
  void last_voltage(const Workspace& workspace, std::size_t row, std::span<double> voltage) const;

  /// Channel values of the nominal coin under nominal conditions, obverse up when the side is `either`.
  std::span<const double> nominal() const;

  /// Per channel, in its unit, at the nominal coin; 0 for dimensions and without finite coins: how far the finite
  /// coin's surfaces are off at states they were not fitted to (root mean square), which differs from piece to piece,
  /// and the estimated error of the disc solution, which all pieces share.
  std::span<const double> surface_error() const;
  std::span<const double> solver_error() const;

  /// Per channel, short reasons why its planar value is known to be wrong for the nominal coin; empty when none is
  /// known.
  std::span<const std::vector<std::string>> marks() const;

  std::span<const NominalImpedance> nominal_impedances() const;
  std::span<const NominalDecay> nominal_decays() const;

  /// Largest relative error found when the quadrature rules were checked, in the norms of planar.hpp.
  double planar_error() const;
  /// Largest error of a decay voltage found when the contours and their rules were checked, relative to
  /// max(|v|, 1e-6 |v(first gate)|); 0 without decay channels.
  double decay_error() const;

 private:
  struct Prepared;
  std::unique_ptr<const Prepared> prepared_;
};

}  // namespace mintspread::signature
