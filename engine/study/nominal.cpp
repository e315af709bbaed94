#include "engine/study/nominal.hpp"

#include <algorithm>
#include <cmath>
#include <set>
#include <string>
#include <utility>

#include "engine/materials/blurred_boundary.hpp"
#include "engine/route/diffusion.hpp"
#include "engine/signature/planar.hpp"
#include "engine/study/version.hpp"

namespace mintspread::study {

namespace {

const char* basis_name(Basis basis) {
  switch (basis) {
    case Basis::measured:
      return "measured";
    case Basis::handbook:
      return "handbook";
    case Basis::supplier:
      return "supplier";
    case Basis::guess:
      return "guess";
    case Basis::drawing:
      return "drawing";
    case Basis::unstated:
      break;
  }
  return "unstated";
}

std::string levels_of(const ProductionModel& model, const Input& input) {
  std::string names;
  std::set<std::size_t> seen;
  for (const auto& component : input.components) {
    if (!seen.insert(component.level).second) continue;
    names += (names.empty() ? "" : ", ") + model.groups[component.level].name;
  }
  return names;
}

std::vector<InputResult> inputs_of(const Study::Prepared& study) {
  std::vector<InputResult> inputs;
  for (std::size_t i = 0; i < study.model.inputs.size(); ++i) {
    const Input& input = study.model.inputs[i];
    InputResult& to = inputs.emplace_back();
    to.path = input.path;
    to.step = input.step;
    to.name = input.name;
    to.understood = input.understood;
    to.basis = basis_name(input.basis);
    if (!input.basis_note.empty()) to.basis += ", " + input.basis_note;
    to.level = levels_of(study.model, input);
    to.unit = input.unit;
    to.nominal = input.nominal;
    to.mean = study.draws.mean_of(static_cast<InputId>(i));
    to.sd = study.draws.spread_of(static_cast<InputId>(i));
    to.spread = !input.components.empty();
    to.known_to = input.known_to.has_value();
  }
  return inputs;
}

/// Handbook names of the metals, in the order of the construction; behind them the alloys of blurred boundaries.
std::vector<std::string> materials_of(const Coin& coin) {
  std::vector<std::string> names;
  if (const auto* section = std::get_if<route::Section>(&coin)) {
    for (const auto& layer : section->layers) names.push_back(layer.metal.name);
    return names;
  }
  const auto& route = std::get<route::Route>(coin);
  for (const auto& step : route.steps) {
    if (const auto* blank = std::get_if<route::Blank>(&step)) names.push_back(blank->metal.name);
    if (const auto* bath = std::get_if<route::Bath>(&step)) names.push_back(bath->metal.name);
  }
  const route::Blurs blurs = route::blurs_of(route);
  for (std::size_t i = 0; i < blurs.count; ++i) {
    const auto& pair = blurs.all[i].boundary->pair();
    names.insert(names.end(), materials::BlurredBoundary::cells, pair.quick + "-" + pair.slow);
  }
  return names;
}

NominalCoin nominal_coin(const Study::Prepared& study, const coin::CoinBlock& coins) {
  using Of = coin::CoinBlock::Of;
  using Piece = coin::CoinBlock::Piece;
  NominalCoin nominal;
  nominal.diameter = coins.piece(Piece::diameter)[0];
  nominal.thickness = coins.piece(Piece::thickness)[0];
  nominal.field_thickness = coins.piece(Piece::field_thickness)[0];
  nominal.rim_width = coins.piece(Piece::rim_width)[0];
  nominal.rim_height_up = coins.piece(Piece::rim_height_up)[0];
  nominal.rim_height_down = coins.piece(Piece::rim_height_down)[0];
  nominal.mass = coins.piece(Piece::mass)[0];
  const auto& construction = coins.construction();
  const auto materials = materials_of(study.model.coin);
  for (const std::size_t metal : construction.section) {
    const auto value = [&](Of what) { return coins.of(metal, what)[0]; };
    nominal.layers.push_back({construction.metals[metal], materials[metal], value(Of::face_thickness),
                              value(Of::rim_thickness), value(Of::conductivity), value(Of::permeability),
                              metal == construction.core});
  }
  const auto& sensor = study.sensor.sensor();
  const auto pair = [&](std::size_t drive, std::size_t receive) {
    const std::string& name = sensor.coils[drive].name;
    return drive == receive ? name : name + " to " + sensor.coils[receive].name;
  };
  for (const auto& row : study.sensor.nominal_impedances()) {
    nominal.impedances.push_back({pair(row.drive, row.receive), row.frequency, row.resistance, row.reactance,
                                  row.normalised_resistance, row.normalised_reactance, row.through});
  }
  for (const auto& row : study.sensor.nominal_decays()) {
    nominal.decays.push_back({pair(row.drive, row.receive), row.time, row.width, row.ramp, row.voltage});
  }
  return nominal;
}

void add_windows(const Study::Prepared& study, const Columns& relations, Result& result) {
  for (std::size_t w = 0; w < study.model.windows.size(); ++w) {
    const WindowSet& set = study.model.windows[w];
    WindowSetResult& to = result.windows.emplace_back();
    to.machine_class = set.machine_class;
    for (std::size_t c = 0; c < set.criteria.size(); ++c) {
      const Criterion& criterion = set.criteria[c];
      CriterionResult& entry = to.criteria.emplace_back();
      entry.name = criterion.name;
      entry.relation = !criterion.channel;
      entry.expression = criterion.expression;
      entry.lower = criterion.limits.lower;
      entry.upper = criterion.limits.upper;
      entry.channel = criterion.channel;
      if (criterion.channel) {
        entry.unit = result.channels[*criterion.channel].unit;
        entry.nominal = result.channels[*criterion.channel].nominal;
      } else {
        entry.nominal = relations[study.relation_of[w][c]][0];
      }
    }
  }
}

}  // namespace

Result nominal_result(const Study::Prepared& study) {
  Result result;
  result.coin = study.model.name;
  result.state = study.model.state;
  result.construction = study.model.construction;
  result.note = study.model.note;
  result.sensor = study.model.sensor.name;

  Pipeline pipeline(study, 8);
  pipeline.read(true);
  result.nominal = nominal_coin(study, pipeline.coins());
  const auto& sensor = study.sensor.sensor();
  for (std::size_t c = 0; c < sensor.channels.size(); ++c) {
    ChannelResult& channel = result.channels.emplace_back();
    channel.name = sensor.channels[c].name;
    channel.kind = signature::describe(sensor, sensor.channels[c]);
    channel.unit = sensor.channels[c].unit.name;
    channel.model = signature::model_of(sensor.channels[c], study.sensor.coin_model());
    channel.marks = study.sensor.marks()[c];
    channel.nominal = study.sensor.nominal()[c];
    channel.surface_error = study.sensor.surface_error()[c];
    channel.model_error = std::hypot(channel.surface_error, study.sensor.solver_error()[c]);
  }
  result.inputs = inputs_of(study);
  for (const Problem& warning : study.warnings) result.warnings.push_back(warning.path + ": " + warning.what);
  add_windows(study, pipeline.relations(), result);
  result.provenance.engine_version = engine_version;
  result.provenance.model_version = model_version;
  result.provenance.compiler = "g++ " __VERSION__;
  result.provenance.processor_path = signature::processor_path();
  result.provenance.planar_error = study.sensor.planar_error();
  for (const auto& finite : {study.sensor.finite().obverse_up, study.sensor.finite().reverse_up}) {
    if (!finite) continue;
    result.provenance.disc_solutions += finite->solutions();
    result.provenance.disc_failed += finite->failed();
  }
  return result;
}

}  // namespace mintspread::study
