#pragma once

#include <string>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/study/model.hpp"

namespace mintspread::support {

/// An invented plain disc read by gauges alone: channels `diameter` and `thickness` (mm), so that every figure of a run
/// has a closed form.
class DiscModel {
 public:
  DiscModel() {
    model.name = "plain disc";
    model.groups = {
        {"piece", 1, "", "", 1}, {"reading", 1, "", "", 1}, {"lot", 65536, "", "", 1}, {"load", 4096, "lot", "", 1}};
    route::Section section;
    thickness = add("section.layers.disc.thickness", 2e-3);
    section.layers.push_back(
        {"disc",
         {"copper", add("section.layers.disc.conductivity", 58e6), add("section.layers.disc.permeability", 1.0),
          add("section.layers.disc.density", 8930.0), add("section.layers.disc.temperature coefficient", 0.0)},
         thickness,
         add("section.layers.disc.rim thickness", 0.0)});
    diameter = add("section.diameter", 20e-3);
    section.diameter = diameter;
    section.rim_width = add("section.rim width", 0.0);
    section.rim_height_up = add("section.rim height.up", 0.0);
    section.rim_height_down = add("section.rim height.down", 0.0);
    model.coin = std::move(section);
    model.sensor.name = "gauges";
    model.sensor.slot = {add("sensor.slot.width", 3e-3), add("sensor.slot.play", 0.1e-3),
                         add("sensor.slot.temperature", reference_temperature)};
    add_channel("diameter", signature::Value::diameter);
    add_channel("thickness", signature::Value::rim_thickness);
  }

  InputId add(const std::string& path, double nominal) {
    study::Input input;
    input.path = path;
    input.step = path.substr(0, path.find('.'));
    input.name = path.substr(path.rfind('.') + 1);
    input.nominal = nominal;
    model.inputs.push_back(std::move(input));
    return static_cast<InputId>(model.inputs.size() - 1);
  }

  study::Input& input(InputId id) { return model.inputs[index(id)]; }

  /// Normal with a standard deviation in metres.
  void vary(InputId id, double sd, std::size_t level = study::piece_level) {
    input(id).components.push_back({sampling::Normal{sd}, false, level});
  }

  void add_channel(const std::string& name, signature::Value value, const std::string& expression = "") {
    signature::Channel channel;
    channel.name = name;
    channel.path = "sensor.channels." + name;
    channel.value = value;
    channel.expression = expression;
    if (expression.empty()) channel.unit = {"mm", 1e-3, 0.0};
    model.sensor.channels.push_back(std::move(channel));
  }

  /// A window on a channel, in mm.
  study::Criterion window(std::size_t channel, double lower, double upper) const {
    const auto& name = model.sensor.channels[channel].name;
    return {name, "windows.counting.windows." + name, channel, "", {lower, upper}};
  }

  study::ProductionModel model;
  InputId thickness, diameter;
};

}  // namespace mintspread::support
