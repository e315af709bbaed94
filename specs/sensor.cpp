#include "specs/sensor.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "engine/base/constants.hpp"
#include "engine/signature/sensor_model.hpp"
#include "specs/constant.hpp"

namespace mintspread::specs {

namespace {

using signature::Channel;
using signature::Value;

const QuantityRule slot_width{.name = "width",
                              .dimensions = {dimension::length},
                              .smallest = 0,
                              .smallest_excluded = true,
                              .why = "coins pass between the walls",
                              .level = study::reading_level,
                              .subject = "slot width"};
const QuantityRule slot_play{.name = "play",
                             .dimensions = {dimension::length},
                             .smallest = 0,
                             .why = "a coin cannot lie inside the wall",
                             .level = study::reading_level,
                             .subject = "play between coin and wall"};
const QuantityRule slot_temperature{.name = "temperature",
                                    .dimensions = {dimension::temperature},
                                    .smallest = celsius_zero - 60,
                                    .largest = celsius_zero + 150,
                                    .why = "coins are read between -60 and 150 degC",
                                    .level = study::reading_level,
                                    .subject = "temperature of the coin when read"};
const QuantityRule coil_recess{.name = "recess",
                               .dimensions = {dimension::length},
                               .smallest = 0,
                               .why = "a coil stands behind the wall",
                               .level = study::reading_level,
                               .subject = "recess of the coil behind the wall"};
const QuantityRule inner_radius{
    .name = "the inner radius", .dimensions = {dimension::length}, .smallest = 0, .why = "a radius is not negative"};
const QuantityRule positive_length{.name = "this length",
                                   .dimensions = {dimension::length},
                                   .smallest = 0,
                                   .smallest_excluded = true,
                                   .why = "a length is positive"};
const QuantityRule gate_time{.name = "the time of the gate",
                             .dimensions = {dimension::time},
                             .smallest = 0,
                             .smallest_excluded = true,
                             .why = "a decay has no value at its start"};
const QuantityRule span_of_time{
    .name = "this time", .dimensions = {dimension::time}, .smallest = 0, .why = "a span of time is not negative"};
const QuantityRule drive_current{.name = "the current",
                                 .dimensions = {dimension::current},
                                 .smallest = 0,
                                 .smallest_excluded = true,
                                 .why = "without current nothing decays"};
const QuantityRule drive_frequency{.name = "the frequency",
                                   .dimensions = {dimension::frequency},
                                   .smallest = 0,
                                   .smallest_excluded = true,
                                   .why = "a harmonic channel needs one"};

constexpr std::array<std::string_view, 14> value_names = {"resistance",
                                                          "reactance",
                                                          "normalised resistance",
                                                          "normalised reactance",
                                                          "magnitude",
                                                          "phase",
                                                          "apparent diameter",
                                                          "rim condition",
                                                          "apparent conductivity",
                                                          "decay",
                                                          "rim thickness",
                                                          "diameter",
                                                          "mass",
                                                          "expression"};

bool harmonic(Value value) { return value <= Value::apparent_conductivity; }
bool uses_coils(Value value) { return value <= Value::decay_voltage; }

class SensorReader {
 public:
  SensorReader(const Node& root, const Handbook& handbook, Context& context)
      : root_(root, "sensor"), handbook_(handbook), context_(context), sensor_(context.model.sensor) {}

  void read() {
    const std::size_t before = context_.findings.errors();
    if (const Node* about = root_["sensor"]) {
      const Fields fields(*about, "sensor");
      sensor_.name = fields.text("name");
      sensor_.note = fields.text("note");
    }
    if (const Node* slot = root_["slot"]) read_slot(Fields(*slot, "sensor.slot"));
    each("coils", [this](const Entry& entry, const Fields& fields) { read_coil(entry, fields); });
    each("reference pieces", [this](const Entry& entry, const Fields& fields) { read_piece(entry, fields); });
    each("channels", [this](const Entry& entry, const Fields& fields) { read_channel(entry, fields); });
    if (context_.findings.errors() > before || !context_.findings.sound(root_.node().at.source->name())) return;
    for (const Problem& problem : signature::check_sensor(sensor_)) context_.report(problem, root_.node().at);
  }

 private:
  template <class Read>
  void each(const std::string& key, Read read) {
    const Node* list = root_[key];
    if (list == nullptr) return;
    for (const Entry& entry : list->entries)
      if (!entry.value.refused) read(entry, Fields(entry.value, root_.path(key) + "." + entry.key));
  }

  InputId quantity(const Fields& fields, const std::string& key, const QuantityRule& rule,
                   std::optional<std::pair<double, Unit>> otherwise = {}) {
    const std::string path = fields.path(key);
    if (const Node* node = fields[key]) {
      auto input = read_quantity(*node, rule, path, "sensor", context_);
      return input ? context_.add(std::move(*input)) : InputId{};
    }
    if (fields.stands(key) || !otherwise) return {};
    const auto& [value, unit] = *otherwise;
    return context_.add(constant_input(rule, path, "sensor", value, unit,
                                       fmt::format("{}: exact, {}, not stated", told(value, unit), rule.subject)));
  }

  double constant(const Fields& fields, const std::string& key, const QuantityRule& rule, double otherwise = 0) {
    const Node* node = fields[key];
    if (node == nullptr) return otherwise;
    const auto found = read_constant(*node, rule, fields.path(key), context_);
    return found ? found->value : otherwise;
  }

  double number(const Fields& fields, const std::string& key, double otherwise) {
    const Node* node = fields[key];
    if (node == nullptr) return otherwise;
    return read_number(*node, fields.path(key), context_).value_or(otherwise);
  }

  void read_slot(const Fields& f) {
    signature::Slot& slot = sensor_.slot;
    slot.width = quantity(f, "width", slot_width);
    slot.play = quantity(f, "play", slot_play, std::pair{0.0, Unit{"mm", 1e-3, 0}});
    slot.temperature =
        quantity(f, "temperature", slot_temperature, std::pair{reference_temperature, Unit{"degC", 1, celsius_zero}});
    slot.rest = f.text("rest") == "above" ? signature::Rest::above : signature::Rest::below;
    const std::string side = f.text("side up");
    slot.side_up = side == "obverse"   ? signature::SideUp::obverse
                   : side == "reverse" ? signature::SideUp::reverse
                                       : signature::SideUp::either;
  }

  void read_coil(const Entry& entry, const Fields& f) {
    signature::MountedCoil coil;
    coil.name = entry.key;
    coil.path = f.path();
    coil.side = f.text("side") == "below" ? signature::Side::below : signature::Side::above;
    coil.coil = {constant(f, "inner radius", inner_radius), constant(f, "outer radius", positive_length),
                 constant(f, "length", positive_length), number(f, "turns", 0)};
    coil.recess = quantity(f, "recess", coil_recess);
    sensor_.coils.push_back(std::move(coil));
  }

  void read_piece(const Entry& entry, const Fields& f) {
    signature::ReferencePiece piece;
    piece.name = entry.key;
    piece.path = f.path();
    piece.diameter = constant(f, "diameter", positive_length);
    const Node* layers = f["layers"];
    for (std::size_t i = 0; layers && i < layers->items.size(); ++i) {
      const Fields layer(layers->items[i], fmt::format("{}.layers.{}", f.path(), i + 1));
      if (layers->items[i].refused) continue;
      const Node* material = layer["material"];
      const auto property = [&](const std::string& key, const QuantityRule& rule) {
        if (layer.stands(key)) return key == "permeability" ? number(layer, key, 1) : constant(layer, key, rule, 1);
        if (material)
          return handbook_.nominal(layer.text("material"), material->at, layer.path("material"), key, context_)
              .value_or(1);
        if (!layer.stands("material"))
          context_.findings.error(layer.node().at, layer.path(),
                                  fmt::format("the layer has neither `material` nor `{}`", key), "State one of them.");
        return 1.0;
      };
      const double thickness = constant(layer, "thickness", positive_length, 1);
      const double conductivity = property("conductivity", property_rule("conductivity"));
      const double permeability = property("permeability", property_rule("permeability"));
      piece.layers.push_back({thickness, conductivity, permeability});
    }
    sensor_.reference_pieces.push_back(std::move(piece));
  }

  std::size_t coil(const Fields& f, const std::string& key, std::size_t otherwise) {
    const Node* node = f[key];
    if (node == nullptr) return otherwise;
    std::vector<std::string> known;
    const Node* coils = root_["coils"];
    if (root_.stands("coils") && coils == nullptr) return otherwise;
    for (std::size_t i = 0; i < sensor_.coils.size(); ++i) {
      if (sensor_.coils[i].name == f.text(key)) return i;
      known.push_back(sensor_.coils[i].name);
    }
    // A coil that was refused is named all the same.
    if (coils && coils->find(f.text(key))) return otherwise;
    context_.findings.error(node->at, f.path(key), fmt::format("`{}` is no coil of this sensor", f.text(key)),
                            suggest(f.text(key), known));
    return otherwise;
  }

  /// Keys that say nothing about a channel of this kind are refused, keys it needs are asked for.
  void keys_fit(const Fields& f, Value value) {
    const std::string name(value_names[static_cast<std::size_t>(value)]);
    const bool decay = value == Value::decay_voltage;
    struct Use {
      const char* key;
      bool used, needed;
      const char* example;
    };
    for (const Use& use :
         {Use{"drive", uses_coils(value), uses_coils(value), "drive: COIL"},
          Use{"receive", uses_coils(value), false, ""},
          Use{"frequency", harmonic(value), harmonic(value), "frequency: 240 kHz"},
          Use{"time", decay, decay, "time: 10 us"}, Use{"width", decay, false, ""}, Use{"ramp", decay, false, ""},
          Use{"current", decay, false, ""},
          Use{"expression", value == Value::expression, value == Value::expression, "expression: skin / core"}}) {
      const Entry* entry = f.node().find(use.key);
      if (entry && !use.used)
        context_.findings.error(entry->at, f.path(use.key),
                                fmt::format("`{}` says nothing about a channel of value `{}`", use.key, name),
                                "Leave it out.");
      if (!entry && use.needed)
        context_.findings.error(f.node().at, f.path(), fmt::format("a channel of value `{}` needs `{}`", name, use.key),
                                fmt::format("For example `{}`.", use.example));
    }
  }

  void read_channel(const Entry& entry, const Fields& f) {
    Channel channel;
    channel.name = entry.key;
    channel.path = f.path();
    const std::string value = f.text("value");
    const auto found = std::find(value_names.begin(), value_names.end(), value);
    if (found == value_names.end()) {
      sensor_.channels.push_back(std::move(channel));
      return;
    }
    channel.value = static_cast<Value>(found - value_names.begin());
    keys_fit(f, channel.value);
    channel.drive = coil(f, "drive", 0);
    channel.receive = coil(f, "receive", channel.drive);
    channel.frequency = constant(f, "frequency", drive_frequency);
    channel.gate = {constant(f, "time", gate_time), constant(f, "width", span_of_time)};
    channel.ramp = constant(f, "ramp", span_of_time);
    channel.current = constant(f, "current", drive_current, 1);
    channel.expression = f.text("expression");
    const MeasuredUnit unit = read_unit(f, channel);
    channel.unit = unit.unit;
    read_scale(f, channel, unit);
    read_noise(f, channel, unit);
    sensor_.channels.push_back(std::move(channel));
  }

  /// Unit of the reading: as stated, by the scale's readings, or the usual one.
  MeasuredUnit read_unit(const Fields& f, const Channel& channel) {
    const MeasuredUnit usual = default_unit(channel.value);
    const auto wanted = dimension_of(channel.value);
    const Node *stated = f["unit"], *scale = f["scale"];
    if (scale) {
      // The first reading's unit; read_scale holds the others against it.
      for (const Entry& reading : scale->entries) {
        const auto text = quantity_text(reading.value.text);
        if (const auto* q = std::get_if<QuantityText>(&text); q && q->value) return q->value->measured;
      }
      return usual;
    }
    if (!stated) return usual;
    const auto read = unit_text(stated->text);
    if (const auto* fault = std::get_if<TextFault>(&read)) {
      context_.findings.error(stated->at_byte(fault->at), f.path("unit"), fault->what, fault->remedy);
      return usual;
    }
    const MeasuredUnit unit = std::get<MeasuredUnit>(read);
    if (wanted && unit.dimension != *wanted) {
      const bool counts = unit.dimension == dimension::counts;
      context_.findings.error(stated->at, f.path("unit"),
                              fmt::format("`{}` is a unit of {}, but the channel tells {}", unit.unit.name,
                                          name_of(unit.dimension), name_of(*wanted)),
                              counts ? "Counts come from `scale`, by two reference pieces."
                                     : fmt::format("The usual unit is `{}`.", usual.unit.name));
      return usual;
    }
    return unit;
  }

  void read_scale(const Fields& f, Channel& channel, const MeasuredUnit& unit) {
    const Node* scale = f["scale"];
    if (scale == nullptr) return;
    const std::string path = f.path("scale");
    if (f.stands("unit"))
      context_.findings.error(f.node().find("unit")->at, f.path("unit"),
                              "the unit of a scaled channel is that of its scale", "Leave `unit` out.");
    if (scale->entries.size() != 2) {
      context_.findings.error(
          scale->at, path,
          fmt::format("a linear scale is fixed by two reference pieces, but {} stand here", scale->entries.size()),
          "Name two, each with its reading.");
      return;
    }
    std::array<std::size_t, 2> pieces{};
    std::array<double, 2> readings{};
    bool sound = true;
    for (std::size_t i = 0; i < 2; ++i) {
      const Entry& entry = scale->entries[i];
      const auto found = piece(entry, path);
      if (!found || entry.value.refused) {
        sound = false;
        continue;
      }
      const QuantityRule rule{.name = "the reading of a reference piece", .dimensions = {unit.dimension}};
      const auto reading = read_constant(entry.value, rule, below(path, entry.key), context_);
      sound = sound && reading;
      if (!reading) continue;
      pieces[i] = *found;
      readings[i] = reading->value;
    }
    if (sound) channel.scale = signature::ReferenceScale{pieces[0], pieces[1], readings[0], readings[1]};
  }

  std::optional<std::size_t> piece(const Entry& entry, const std::string& path) {
    std::vector<std::string> known;
    for (std::size_t i = 0; i < sensor_.reference_pieces.size(); ++i) {
      if (sensor_.reference_pieces[i].name == entry.key) return i;
      known.push_back(sensor_.reference_pieces[i].name);
    }
    const Node* all = root_["reference pieces"];
    if (root_.stands("reference pieces") && (all == nullptr || all->find(entry.key))) return std::nullopt;
    context_.findings.error(
        entry.at, path, fmt::format("`{}` is no reference piece of this sensor", entry.key),
        known.empty() ? "Name it in `reference pieces`, with its layers." : suggest(entry.key, known));
    return std::nullopt;
  }

  void read_noise(const Fields& f, Channel& channel, const MeasuredUnit& unit) {
    if (const Node* node = f["noise"]) {
      const QuantityRule rule{.name = "noise",
                              .dimensions = {unit.dimension},
                              .level = study::reading_level,
                              .subject = fmt::format("noise of channel {}", channel.name),
                              .deviation_only = true};
      if (auto input = read_quantity(*node, rule, f.path("noise"), "sensor", context_))
        channel.noise = context_.add(std::move(*input));
    }
    const QuantityRule rule{.name = "the resolution",
                            .dimensions = {unit.dimension},
                            .smallest = 0,
                            .why = "the step of a reading is not negative"};
    channel.resolution = constant(f, "resolution", rule);
  }

  Fields root_;
  const Handbook& handbook_;
  Context& context_;
  signature::Sensor& sensor_;
};

}  // namespace

MeasuredUnit default_unit(signature::Value value) {
  const auto unit = [](const char* text) { return std::get<MeasuredUnit>(unit_text(text)); };
  switch (value) {
    case Value::resistance:
    case Value::reactance:
    case Value::magnitude:
      return unit("ohm");
    case Value::phase:
      return unit("deg");
    case Value::apparent_conductivity:
      return unit("% IACS");
    case Value::decay_voltage:
      return unit("V");
    case Value::apparent_diameter:
    case Value::rim_condition:
    case Value::rim_thickness:
    case Value::diameter:
      return unit("mm");
    case Value::mass:
      return unit("g");
    case Value::normalised_resistance:
    case Value::normalised_reactance:
    case Value::expression:
      return unit("");
  }
  return unit("");
}

std::optional<Dimension> dimension_of(signature::Value value) {
  if (value == Value::expression) return std::nullopt;
  return default_unit(value).dimension;
}

void read_sensor(const Node& root, const Handbook& handbook, Context& context) {
  SensorReader(root, handbook, context).read();
}

}  // namespace mintspread::specs
