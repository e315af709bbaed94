#pragma once

#include <complex>
#include <cstddef>
#include <optional>
#include <span>
#include <vector>

#include "engine/base/problem.hpp"
#include "engine/coin/coin_block.hpp"
#include "engine/signature/channel_value.hpp"
#include "engine/signature/decay.hpp"
#include "engine/signature/expression.hpp"
#include "engine/signature/finite_coin.hpp"
#include "engine/signature/placed_stack.hpp"
#include "engine/signature/planar.hpp"
#include "engine/signature/sensor_model.hpp"

namespace mintspread::signature {

// What SensorModel holds; for its own files only. Channels of one pair of coils share one call of the planar solution.

/// Drive and receive coil of some channels.
struct Pair {
  std::size_t drive, receive;
  bool operator==(const Pair&) const = default;
};

struct HarmonicGroup {
  Pair pair;
  std::vector<double> frequencies;
  std::vector<std::complex<double>> s;
  double air_inductance = 0;  ///< H; of two coils the root of their product
  PlanarRule rule;
};

struct DecayGroup {
  Pair pair;
  std::vector<DecayGate> gates;
  PreparedDecay prepared;
};

/// A stack with columns of its own, as rules are checked for.
class Box {
 public:
  Box(std::size_t layers, std::size_t lanes);
  void set(std::size_t lane, std::size_t layer, double thickness, double conductivity, double permeability);
  std::span<double> distance() { return columns_[columns_.count() - 1]; }
  PlanarBlock block() const { return {layers_, columns_[columns_.count() - 1]}; }

 private:
  Columns columns_;
  std::vector<LayerColumns> layers_;
};

/// Everything that follows from the sensor and the nominal coin, with rules checked over the box.
class PreparedSensor {
 public:
  /// Throws as SensorModel's constructor says. `nominal` stays empty.
  PreparedSensor(Sensor of, const coin::CoinBlock& coins, const Columns& inputs, double tolerance, FiniteCoins of_disc);

  Sensor sensor;
  coin::Construction construction;
  double width = 0, play = 0, temperature = 0;  ///< nominal conditions
  std::vector<double> recess;
  std::vector<HarmonicGroup> harmonic;
  std::vector<DecayGroup> decay;
  FiniteCoins finite;
  std::vector<ChannelPlan> plans;
  std::vector<Expression> expressions;     ///< in the order of the channels that are expressions
  std::vector<std::size_t> expression_of;  ///< channel -> position in `expressions`
  std::vector<double> nominal;
  std::vector<std::vector<std::string>> marks;
  std::vector<NominalImpedance> impedances;
  std::vector<NominalDecay> decays;
  double planar_error = 0, decay_error = 0;

 private:
  Coupling coupling(const Pair& pair) const;
  std::vector<PlacedStack> place_box(const coin::CoinBlock& coins, const Columns& inputs);
  void group_channels();
  void tell_nominal(const coin::CoinBlock& coins, const Columns& inputs, std::span<const Box> of_harmonic,
                    std::span<const Box> of_decay);
  void tell_impedances(std::size_t group, const Columns& mutual, const Box& box);
  void prepare_conductivity(const Box& box, std::size_t channel);
  void prepare_scale(std::size_t channel);
  struct OverPiece;
  OverPiece over(const ReferencePiece& piece, const Channel& channel) const;
  std::complex<double> piece_coupling(const ReferencePiece& piece, std::size_t channel) const;
  std::optional<double> piece_value(const ReferencePiece& piece, std::size_t channel) const;
  void prepare_line(std::size_t channel);
  void mark_channels(const coin::CoinBlock& coins);

  std::vector<Problem> problems_;
};

}  // namespace mintspread::signature
