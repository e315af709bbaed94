#pragma once

#include <array>
#include <string>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/study/model.hpp"

namespace mintspread::bench {

/// The benchmark's coin: seven layers given by their section, one coil at five frequencies, 22 random inputs
/// (thickness, conductivity and permeability of every layer, lift-off). Invented; resistance and reactance at each
/// frequency are channels.
class ReferenceJob {
 public:
  static study::ProductionModel model() { return ReferenceJob().model_; }
  /// The same coin and coil read at six decay gates instead.
  static study::ProductionModel with_gates() {
    ReferenceJob job;
    auto& channels = job.model_.sensor.channels;
    channels.clear();
    for (const double time : {2e-6, 5e-6, 10e-6, 20e-6, 50e-6, 100e-6}) {
      channels.push_back(
          channel("gate " + std::to_string(static_cast<int>(1e6 * time)), signature::Value::decay_voltage, 0.0));
      channels.back().gate = {time, 0.5e-6};
      channels.back().unit = {"V", 1.0, 0.0};
    }
    return job.model_;
  }

  static constexpr std::array<double, 5> frequencies{20e3, 60e3, 180e3, 500e3, 1.2e6};
  static constexpr double lift_off = 0.4e-3;
  struct Layer {
    const char* metal;
    double thickness, thickness_sd, conductivity, conductivity_sd, permeability, permeability_sd;
  };
  static constexpr std::array<Layer, 7> layers{{{"nickel", 6e-6, 0.08, 13e6, 0.05, 60.0, 0.10},
                                                {"copper", 18e-6, 0.06, 57e6, 0.03, 1.0, 0.03},
                                                {"nickel", 5e-6, 0.08, 13e6, 0.05, 60.0, 0.10},
                                                {"steel", 1.6e-3, 0.03, 6.5e6, 0.04, 120.0, 0.10},
                                                {"nickel", 5e-6, 0.08, 13e6, 0.05, 60.0, 0.10},
                                                {"copper", 18e-6, 0.06, 57e6, 0.03, 1.0, 0.03},
                                                {"nickel", 6e-6, 0.08, 13e6, 0.05, 60.0, 0.10}}};

 private:
  ReferenceJob() {
    model_.name = "benchmark section";
    model_.groups = {{"piece", 1, "", "", 1}, {"reading", 1, "", "", 1}};
    route::Section section;
    for (std::size_t i = 0; i < layers.size(); ++i) {
      const Layer& layer = layers[i];
      const std::string path = "section.layers." + std::to_string(i);
      const InputId thickness = add(path + ".thickness", layer.thickness, layer.thickness_sd);
      const InputId conductivity = add(path + ".conductivity", layer.conductivity, layer.conductivity_sd);
      const InputId permeability = add(path + ".permeability", layer.permeability, layer.permeability_sd);
      const InputId density = add(path + ".density", 8000.0, 0.0);
      const InputId coefficient = add(path + ".temperature coefficient", 0.0, 0.0);
      section.layers.push_back({std::to_string(i) + " " + layer.metal,
                                {layer.metal, conductivity, permeability, density, coefficient},
                                thickness,
                                thickness});
    }
    section.core = 3;
    section.diameter = add("section.diameter", 22e-3, 0.0);
    section.rim_width = add("section.rim width", 0.5e-3, 0.0);
    section.rim_height_up = add("section.rim height.up", 0.0, 0.0);
    section.rim_height_down = add("section.rim height.down", 0.0, 0.0);
    model_.coin = std::move(section);
    add_sensor();
  }

  InputId add(const std::string& path, double nominal, double relative_sd) {
    study::Input input;
    input.path = path;
    input.step = path.substr(0, path.find('.'));
    input.name = path.substr(path.rfind('.') + 1);
    input.nominal = nominal;
    if (relative_sd > 0.0) input.components = {{sampling::Normal{relative_sd}, true, study::piece_level}};
    model_.inputs.push_back(std::move(input));
    return static_cast<InputId>(model_.inputs.size() - 1);
  }

  void add_sensor() {
    auto& sensor = model_.sensor;
    sensor.name = "benchmark coil";
    // The coin lies against the upper wall, so that the play alone is the lift-off.
    sensor.slot = {add("sensor.slot.width", 3e-3, 0.0), add("sensor.slot.play", lift_off, 0.10),
                   add("sensor.slot.temperature", reference_temperature, 0.0), signature::Rest::above,
                   signature::SideUp::obverse};
    model_.inputs[index(sensor.slot.play)].components.front().level = study::reading_level;
    sensor.coils.push_back({"face",
                            "sensor.coils.face",
                            signature::Side::above,
                            {2e-3, 5e-3, 2e-3, 1.0},
                            add("sensor.coils.face.recess", 0.0, 0.0)});
    for (const double frequency : frequencies) {
      const std::string at = std::to_string(static_cast<int>(frequency / 1e3));
      sensor.channels.push_back(channel("r " + at, signature::Value::resistance, frequency));
      sensor.channels.push_back(channel("x " + at, signature::Value::reactance, frequency));
    }
  }

  static signature::Channel channel(const std::string& name, signature::Value value, double frequency) {
    signature::Channel made;
    made.name = name;
    made.path = "sensor.channels." + name;
    made.value = value;
    made.frequency = frequency;
    made.unit = {"ohm", 1.0, 0.0};
    return made;
  }

  study::ProductionModel model_;
};

}  // namespace mintspread::bench
