#pragma once

#include <algorithm>
#include <span>
#include <string>
#include <vector>

#include "engine/base/constants.hpp"
#include "engine/signature/sensor_model.hpp"
#include "tests/support/stack.hpp"

namespace mintspread::test {

/// A coin known by its layers, in every lane; the fields are the nominal values.
struct BenchCoin {
  std::vector<Layer> layers;  ///< from the obverse
  double rim_height_up = 0, rim_height_down = 0;
  double diameter = 26e-3, rim_width = 1e-3, mass = 7e-3;
  double temperature_coefficient = 0;

  double thickness() const {
    double sum = rim_height_up + rim_height_down;
    for (const Layer& layer : layers) sum += layer.thickness;
    return sum;
  }
  BenchCoin turned() const {
    BenchCoin other = *this;
    std::reverse(other.layers.begin(), other.layers.end());
    std::swap(other.rim_height_up, other.rim_height_down);
    return other;
  }
  /// Every layer is a metal of its own.
  coin::CoinBlock block(std::size_t lanes = 8) const {
    using Of = coin::CoinBlock::Of;
    using Piece = coin::CoinBlock::Piece;
    coin::Construction construction;
    for (std::size_t i = 0; i < layers.size(); ++i) {
      construction.metals.push_back("metal " + std::to_string(i));
      construction.section.push_back(i);
    }
    coin::CoinBlock coins(construction, lanes);
    const auto fill = [](std::span<double> column, double value) { std::fill(column.begin(), column.end(), value); };
    double field = 0;
    for (std::size_t i = 0; i < layers.size(); ++i) {
      fill(coins.of(i, Of::face_thickness), layers[i].thickness);
      fill(coins.of(i, Of::conductivity), layers[i].conductivity);
      fill(coins.of(i, Of::permeability), layers[i].permeability);
      fill(coins.of(i, Of::temperature_coefficient), temperature_coefficient);
      field += layers[i].thickness;
    }
    fill(coins.piece(Piece::diameter), diameter);
    fill(coins.piece(Piece::thickness), thickness());
    fill(coins.piece(Piece::field_thickness), field);
    fill(coins.piece(Piece::rim_width), rim_width);
    fill(coins.piece(Piece::rim_height_up), rim_height_up);
    fill(coins.piece(Piece::rim_height_down), rim_height_down);
    fill(coins.piece(Piece::mass), mass);
    fill(coins.piece(Piece::weight), 1);
    return coins;
  }
};

/// A sensor with a coil on either side; its inputs have fixed places.
struct Bench {
  static constexpr InputId width{0}, play{1}, temperature{2}, upper_recess{3}, lower_recess{4}, noise{5};
  static constexpr std::size_t upper = 0, lower = 1;

  Bench(const signature::Coil& above, const signature::Coil& below, std::size_t lanes = 8) : inputs(6, lanes) {
    sensor.name = "bench";
    sensor.slot.width = width;
    sensor.slot.play = play;
    sensor.slot.temperature = temperature;
    sensor.coils = {{"upper", "sensor.coils.upper", signature::Side::above, above, upper_recess},
                    {"lower", "sensor.coils.lower", signature::Side::below, below, lower_recess}};
    set(width, 3e-3);
    set(temperature, reference_temperature);
  }
  void set(InputId id, double value) { std::fill(inputs[index(id)].begin(), inputs[index(id)].end(), value); }

  signature::Channel& add(const std::string& name, signature::Value value, double frequency = 60e3) {
    signature::Channel channel;
    channel.name = name;
    channel.path = "sensor.channels." + name;
    channel.value = value;
    channel.frequency = frequency;
    return sensor.channels.emplace_back(channel);
  }
  signature::Channel& add_decay(const std::string& name, double time, double channel_width = 0) {
    signature::Channel& channel = add(name, signature::Value::decay_voltage, 0);
    channel.gate = {time, channel_width};
    return channel;
  }

  signature::SensorModel model(const BenchCoin& coin) const {
    return signature::SensorModel(sensor, coin.block(inputs.lanes()), inputs);
  }
  /// The nominal reading of a channel.
  double nominal(const BenchCoin& coin, std::size_t channel = 0) const { return model(coin).nominal()[channel]; }

  signature::Sensor sensor;
  Columns inputs;
};

}  // namespace mintspread::test
