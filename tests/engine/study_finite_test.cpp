#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <utility>

#include "engine/base/constants.hpp"
#include "engine/study/finite.hpp"
#include "engine/study/pipeline.hpp"
#include "engine/study/sorter.hpp"
#include "tests/support/disc_model.hpp"
#include "tests/support/plated_route.hpp"

// Coins in their finite size: response surfaces against the disc itself, and what they depend on.

namespace {

using namespace mintspread;
using namespace mintspread::study;
using signature::Side;
using Complex = std::complex<double>;

/// A disc of one metal under a face coil and a coil about its rim.
class CoiledDisc : public support::DiscModel {
 public:
  explicit CoiledDisc(double frequency = 60e3) {
    model.sensor.channels.clear();
    model.sensor.coils = {
        {"face", "sensor.coils.face", Side::below, {2e-3, 5e-3, 2e-3, 200}, add("sensor.coils.face.recess", 0.3e-3)},
        {"rim", "sensor.coils.rim", Side::above, {8.5e-3, 11e-3, 2e-3, 100}, add("sensor.coils.rim.recess", 0.4e-3)}};
    add_coil_channel("face", signature::Value::reactance, 0, frequency);
    add_coil_channel("rim", signature::Value::resistance, 1, frequency);
    vary(diameter, 0.02e-3);
    vary(thickness, 0.03e-3);
    vary(model.sensor.slot.play, 0.02e-3);
    conductivity = std::get<route::Section>(model.coin).layers[0].metal.conductivity;
    vary(conductivity, 2e6);
  }

  void add_coil_channel(const std::string& name, signature::Value value, std::size_t coil, double frequency) {
    add_channel(name, value);
    auto& channel = model.sensor.channels.back();
    channel.unit = {"mohm", 1e-3, 0.0};
    channel.drive = channel.receive = coil;
    channel.frequency = frequency;
  }

  InputId conductivity;
};

/// The disc with a copper plating on steel; what the upper one left on the rim is anything from nothing to 30 um.
class WornRim : public CoiledDisc {
 public:
  WornRim() {
    auto& section = std::get<route::Section>(model.coin);
    const auto metal = [this](const std::string& name, double s, double mu) {
      const std::string path = "section.layers." + name;
      return route::Metal{name, add(path + ".conductivity", s), add(path + ".permeability", mu),
                          add(path + ".density", 8000.0), add(path + ".temperature coefficient", 0.0)};
    };
    const auto layer = [&](const std::string& name, double s, double mu, InputId across, double on_rim) {
      return route::Section::Layer{name, metal(name, s, mu), across,
                                   add("section.layers." + name + ".rim thickness", on_rim)};
    };
    const InputId face = add("section.layers.copper.thickness", 25e-6);
    section.layers = {layer("upper copper", 55e6, 1.0, face, 15e-6), layer("steel", 7e6, 120.0, thickness, 0.0),
                      layer("lower copper", 55e6, 1.0, face, 0.0)};
    section.core = 1;
    input(section.layers[0].rim_thickness)
        .components.push_back({sampling::Uniform{-15e-6, 15e-6}, false, study::piece_level});
  }
};

FiniteOptions on_threads(std::size_t threads) {
  FiniteOptions options;
  options.threads = threads;
  return options;
}

/// What the disc itself reads of a lane, ohm.
Complex solved(const Study& study, const Pipeline& pipeline, Columns& inputs, std::size_t lane, bool turned,
               std::size_t coil, double frequency) {
  const auto& prepared = study.prepared();
  const auto& sensor = prepared.sensor.sensor();
  const signature::DiscState state(prepared.construction, sensor,
                                   turned ? signature::SideUp::reverse : signature::SideUp::obverse);
  Columns written(state.count(), block_lanes);
  std::vector<std::span<const double>> recess;
  for (const auto& each : sensor.coils) recess.push_back(inputs[index(each.recess)]);
  state.write(
      pipeline.coins(),
      {inputs[index(sensor.slot.width)], inputs[index(sensor.slot.play)], inputs[index(sensor.slot.temperature)]}, {},
      recess, written);
  std::vector<double> one;
  for (std::size_t column = 0; column < state.count(); ++column) one.push_back(written[column][lane]);
  const auto placed = state.place(one);
  const Complex s(0.0, 2.0 * pi * frequency);
  return s * signature::solve_disc(placed.disc, placed.coils, s, {}).between(coil, coil);
}

}  // namespace

TEST_CASE("A run through response surfaces reads what the disc reads", "[finite][slow]") {
  const CoiledDisc disc;
  const Study planar(disc.model);
  const Study study(disc.model, {.finite = FinitePreparation(planar).solve({})});
  Pipeline pipeline(study.prepared(), block_lanes), flat(planar.prepared(), block_lanes);
  pipeline.draw_and_read(DrawSource{.seed = 3}, 0, true);
  flat.draw_and_read(DrawSource{.seed = 3}, 0, false);
  const auto& values = pipeline.reading().values;
  for (const std::size_t channel : {std::size_t{0}, std::size_t{1}}) {
    double squares = 0.0;
    for (const std::size_t lane : std::vector<std::size_t>{0, 100, 200, 300, 400, 500}) {
      const Complex impedance = 1e3 * solved(study, pipeline, pipeline.inputs(), lane, false, channel, 60e3);
      const double exact = channel == 0 ? impedance.imag() : impedance.real();
      squares += std::pow(values[channel][lane] - exact, 2.0) / 6.0;
      if (channel == 1) {
        // A coil as wide as the coin is what the unlimited width gets wrong.
        CHECK(std::abs(flat.reading().values[channel][lane] - exact) > 0.1 * std::abs(exact));
      }
    }
    const double told = study.prepared().sensor.surface_error()[channel];
    INFO("channel " << channel << ": off by " << std::sqrt(squares) << ", told " << told);
    // Pieces spread a little less than the inner support points, so that the error told is an upper one; below it
    // stands the rounding of the planar rule, 1e-6 of the value.
    CHECK(std::sqrt(squares) < 1.5 * told + 2e-6 * std::abs(values[channel][0]));
    const auto spread = [&] {
      double sum = 0.0, sum2 = 0.0;
      for (const double value : values[channel]) sum += value, sum2 += value * value;
      const double mean = sum / static_cast<double>(block_lanes);
      return std::sqrt(sum2 / static_cast<double>(block_lanes) - mean * mean);
    }();
    CHECK(told < 0.01 * spread);
  }
  CHECK(std::ranges::count(pipeline.reading().outside, 1) == 0);
}

TEST_CASE("Solutions are the same bytes on any number of threads, and come back from them", "[finite][slow]") {
  const CoiledDisc disc(10e3);
  const Study planar(disc.model);
  const FinitePreparation preparation(planar);
  const std::string bytes = FinitePreparation::bytes(preparation.solve(on_threads(1)));
  CHECK(bytes == FinitePreparation::bytes(preparation.solve(on_threads(3))));
  const auto back = preparation.from_bytes(bytes);
  REQUIRE(back);
  CHECK(FinitePreparation::bytes(*back) == bytes);
  // Nothing is made of a blob that is cut, longer, or of another box.
  CHECK_FALSE(preparation.from_bytes(bytes.substr(0, bytes.size() - 1)));
  CHECK_FALSE(preparation.from_bytes(bytes + "x"));
  CHECK_FALSE(preparation.from_bytes(""));
  CoiledDisc wider(10e3);
  wider.input(wider.diameter).components[0] = {sampling::Normal{0.2e-3}, false, piece_level};
  const Study other(wider.model);
  CHECK_FALSE(FinitePreparation(other).from_bytes(bytes));
}

TEST_CASE("What moves no coin asks for the same solutions, and so does a nominal moved a little", "[finite][slow]") {
  const auto key = [](const support::DiscModel& disc) {
    const Study planar(disc.model);
    return FinitePreparation(planar).key();
  };
  const CoiledDisc disc;
  CoiledDisc windows;
  windows.model.windows = {{"counting", "", {{"face", "windows.counting.face", 0, "", {-1e3, 1e3}}}}};
  CHECK(key(windows) == key(disc));
  CoiledDisc nudged;
  nudged.input(nudged.conductivity).nominal *= 1.001;
  CHECK(key(nudged) == key(disc));
  CoiledDisc moved;
  moved.input(moved.conductivity).nominal *= 0.5;
  CHECK(key(moved) != key(disc));
  CHECK(key(CoiledDisc(61e3)) != key(disc));
}

TEST_CASE("A piece beyond the coins that were solved is counted and read all the same", "[finite][slow]") {
  const CoiledDisc disc;
  const Study planar(disc.model);
  const Study study(disc.model, {.finite = FinitePreparation(planar).solve({})});
  Pipeline pipeline(study.prepared(), block_lanes);
  pipeline.inputs()[index(disc.conductivity)][7] = 20e6;
  pipeline.read(false);
  const auto& reading = pipeline.reading();
  CHECK(reading.outside[7] == 1);
  CHECK(std::ranges::count(reading.outside, 1) == 1);
  CHECK(reading.unsolved[7] == 0);
  CHECK(std::isfinite(reading.values[0][7]));
}

TEST_CASE("The two sides of a coin that differ are solved apart", "[finite][slow]") {
  CoiledDisc disc;
  auto& section = std::get<route::Section>(disc.model.coin);
  auto steel = section.layers[0];
  steel.name = "steel";
  steel.metal.conductivity = disc.add("section.layers.steel.conductivity", 7e6);
  steel.metal.permeability = disc.add("section.layers.steel.permeability", 100.0);
  steel.thickness = disc.add("section.layers.steel.thickness", 0.4e-3);
  section.layers.push_back(steel);
  disc.input(section.layers[0].thickness).nominal = 1.6e-3;
  disc.model.sensor.slot.side_up = signature::SideUp::either;
  const Study planar(disc.model);
  const auto coins = FinitePreparation(planar).solve({});
  REQUIRE(coins.obverse_up);
  REQUIRE(coins.reverse_up);
  const Study study(disc.model, {.finite = coins});
  Pipeline pipeline(study.prepared(), block_lanes);
  pipeline.draw_and_read(DrawSource{.seed = 4}, 0, false);
  const auto& values = pipeline.reading().values;
  // Steel down or copper down: the face coil below tells at once.
  double least = values[0][0], largest = values[0][0];
  for (const double value : values[0]) least = std::min(least, value), largest = std::max(largest, value);
  const double middle = 0.5 * (least + largest);
  for (const std::size_t lane : std::vector<std::size_t>{3, 4, 5, 6, 7, 8}) {
    const bool turned =
        std::abs(1e3 * solved(study, pipeline, pipeline.inputs(), lane, true, 0, 60e3).imag() - values[0][lane]) <
        std::abs(1e3 * solved(study, pipeline, pipeline.inputs(), lane, false, 0, 60e3).imag() - values[0][lane]);
    const double exact = 1e3 * solved(study, pipeline, pipeline.inputs(), lane, turned, 0, 60e3).imag();
    CHECK(std::abs(values[0][lane] - exact) < 1e-3 * (largest - least));
    CHECK((values[0][lane] > middle) == (exact > middle));
  }
}

TEST_CASE("Reference discs read their own diameter, and nothing beside the line between them", "[finite][slow]") {
  CoiledDisc disc;
  const double sigma = disc.input(disc.conductivity).nominal;
  disc.model.sensor.reference_pieces = {{"small", "sensor.reference pieces.small", {{2e-3, sigma, 1.0}}, 20e-3},
                                        {"large", "sensor.reference pieces.large", {{2e-3, sigma, 1.0}}, 21e-3}};
  for (const auto& [name, value] :
       {std::pair{"size", signature::Value::apparent_diameter}, std::pair{"state", signature::Value::rim_condition}}) {
    disc.add_coil_channel(name, value, 1, 240e3);
    disc.model.sensor.channels.back().unit = {"mm", 1e-3, 0.0};
    disc.model.sensor.channels.back().scale = signature::ReferenceScale{0, 1, 20e-3, 21e-3};
  }
  const auto read = [&](double diameter) {
    disc.input(disc.diameter).nominal = diameter;
    const Study planar(disc.model);
    const Study study(disc.model, {.finite = FinitePreparation(planar, FiniteScope::nominal).solve({})});
    return nominal_reading(study).channels;
  };
  // A coin like a disc reads like it: both solutions are within 1e-3 of the impedance, of which a millimetre is a
  // tenth.
  for (const double diameter : {20.0, 21.0}) {
    const auto channels = read(1e-3 * diameter);
    CHECK(channels[2].nominal == Approx(diameter).margin(0.01));
    CHECK(channels[3].nominal == Approx(0.0).margin(0.01));
  }
  // Between the discs a coin of their metal stands near the line: it bends by less than a tenth of its length.
  const auto middle = read(20.5e-3);
  CHECK(middle[2].nominal == Approx(20.5).margin(0.1));
  CHECK(std::abs(middle[3].nominal) < 0.1);
  // Another metal of that size leaves the line.
  disc.input(disc.conductivity).nominal = 0.1 * sigma;
  CHECK(std::abs(read(20.5e-3)[3].nominal) > 0.3);
}

TEST_CASE("What is left of a worn rim has support points from end to end", "[finite][slow]") {
  // The plating may be missing on the rim or be there whole; the coil about the rim is read along the way.
  WornRim coin;
  const Study planar(coin.model);
  const FinitePreparation preparation(planar);
  const auto coins = preparation.solve({});
  const auto box = coins.obverse_up->box();
  CHECK(std::ranges::count(box, true, &signature::StateRange::filled) == 1);
  CHECK(coins.obverse_up->solutions() == 64 + 16);
  const Study study(coin.model, {.finite = coins});
  Pipeline pipeline(study.prepared(), block_lanes);
  pipeline.draw_and_read(DrawSource{.seed = 3}, 0, true);
  const auto& values = pipeline.reading().values;
  double squares = 0.0, least = 1e9, most = -1e9;
  for (std::size_t lane = 0; lane < 512; lane += 32) {
    const Complex impedance = 1e3 * solved(study, pipeline, pipeline.inputs(), lane, false, 1, 60e3);
    squares += std::pow(values[1][lane] - impedance.real(), 2.0) / 16.0;
    least = std::min(least, impedance.real());
    most = std::max(most, impedance.real());
  }
  INFO("off by " << std::sqrt(squares) << " of a range of " << most - least << ", told "
                 << study.prepared().sensor.surface_error()[1]);
  CHECK(std::sqrt(squares) < 0.005 * (most - least));
  CHECK(study.prepared().sensor.surface_error()[1] < 0.01 * (most - least));
}

TEST_CASE("A surface that is rougher than the spread it should tell is refused", "[finite]") {
  Result result;
  ChannelResult channel;
  channel.name = "rim";
  channel.unit = "mm";
  channel.reading.sd.value = 1.0;
  channel.surface_error = channel.model_error = 0.09;
  result.channels.push_back(channel);
  CHECK(rough_surfaces(result).empty());
  result.channels[0].surface_error = result.channels[0].model_error = 0.11;
  const auto problems = rough_surfaces(result);
  REQUIRE(problems.size() == 1);
  CHECK(problems[0].path == "sensor.channels.rim");
  // What the solution itself does not know better is no fault of the surface.
  result.channels[0].model_error = 0.2;
  CHECK(rough_surfaces(result).empty());
}

TEST_CASE("The nominal coin alone takes one solution a frequency", "[finite]") {
  const CoiledDisc disc;
  const Study planar(disc.model);
  const FinitePreparation preparation(planar, FiniteScope::nominal);
  CHECK(preparation.solutions() == 1);
  const Study study(disc.model, {.finite = preparation.solve({})});
  const Result result = nominal_reading(study);
  Pipeline pipeline(study.prepared(), block_lanes);
  pipeline.form();
  const Complex impedance = 1e3 * solved(study, pipeline, pipeline.inputs(), 0, false, 0, 60e3);
  CHECK(result.channels[0].nominal == Approx(impedance.imag()).epsilon(1e-9));
  CHECK(result.channels[0].model == "finite coin");
  CHECK(result.channels[1].marks.empty());
  CHECK(nominal_reading(planar).channels[1].marks.size() == 1);
}

TEST_CASE("A sort at the end of the route reads by a coil what the finished coin reads", "[finite][slow]") {
  support::PlatedRoute made;
  ProductionModel& model = made.model;
  model.sensor.coils = {{"rim",
                         "sensor.coils.rim",
                         Side::above,
                         {8.5e-3, 11e-3, 2e-3, 100},
                         made.add("sensor.coils.rim.recess", 0.4e-3)}};
  made.add_channel("rim", signature::Value::resistance);
  const std::size_t rim = model.sensor.channels.size() - 1;
  model.sensor.channels[rim].unit = {"mohm", 1e-3, 0.0};
  model.sensor.channels[rim].frequency = 60e3;
  made.vary(made.blank, 0.01e-3);
  made.vary(made.copper, 1e-6);
  made.vary(made.collar, 0.01e-3);
  made.vary(model.sensor.slot.play, 0.02e-3);
  const auto steps = std::get<route::Route>(model.coin).steps.size();
  auto& sort = made.sort("coil", steps, Sort::Reads::channel, {0.0, 1e6});
  sort.channel = rim;
  sort.unit = model.sensor.channels[rim].unit;

  const ProductionModel part = model_of_sort(model, 0);
  CHECK(part.sensor.channels.size() == 1);
  CHECK(part.sorts.empty());
  for (const Input& input : part.inputs) CHECK((input.components.empty() || !input.path.starts_with("sensor.")));

  const Study planar(model);
  StudyOptions options;
  options.finite = FinitePreparation(planar).solve({});
  options.finite_at_sorts = {FinitePreparation(Study(part)).solve({})};
  const Study study(model, options);
  CHECK(reads_of(model, planar.prepared().sorting, 0) == "channel rim, planar");
  CHECK(reads_of(model, study.prepared().sorting, 0) == "channel rim, finite coin");
  Pipeline pipeline(study.prepared(), block_lanes), flat(planar.prepared(), block_lanes);
  pipeline.draw_and_read(DrawSource{.seed = 3}, 0, true);
  flat.draw_and_read(DrawSource{.seed = 3}, 0, true);
  const auto at_sort = pipeline.sorter()->first_readings(0), flat_at_sort = flat.sorter()->first_readings(0);
  const auto& coin = pipeline.coin_reading().values;
  double mean = 0.0, squares = 0.0, off = 0.0, least = 1e9;
  for (std::size_t lane = 0; lane < block_lanes; ++lane) mean += coin[rim][lane] / block_lanes;
  for (std::size_t lane = 0; lane < block_lanes; ++lane) {
    squares += (coin[rim][lane] - mean) * (coin[rim][lane] - mean) / block_lanes;
    off = std::max(off, std::abs(at_sort[lane] - coin[rim][lane]));
    least = std::min(least, std::abs(flat_at_sort[lane] - coin[rim][lane]));
    // Planar readings of sort and coin agree as well as the quadrature, the finite ones as well as two surfaces.
    CHECK(flat_at_sort[lane] == Approx(flat.coin_reading().values[rim][lane]).epsilon(1e-5));
  }
  CHECK(off < 0.02 * std::sqrt(squares));
  CHECK(least > 10.0 * std::sqrt(squares));
}

TEST_CASE("What sorts keep by a channel is judged when the coins are finite that it reads") {
  support::PlatedRoute made;
  auto& sort = made.sort("mass", 1, Sort::Reads::channel, {1e3, 1e4});
  sort.channel = made.model.sensor.channels.size() - 1;  // the mass, g
  CHECK_THROWS_AS(Study(made.model), InvalidSpecification);
  CHECK_NOTHROW(Study(made.model, {.provisional = true}));
  // A gauge reads the same either way.
  sort.reads = Sort::Reads::mass;
  sort.unit = {"g", 1e-3, 0.0};
  CHECK_THROWS_AS(Study(made.model, {.provisional = true}), InvalidSpecification);
}
