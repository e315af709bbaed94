#pragma once

#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <utility>

#include "engine/study/study.hpp"
#include "tests/support/disc_model.hpp"

namespace mintspread::support {

/// An invented blank of steel, copper and nickel on it, a burnish and the press, read by gauges alone.
struct PlatedRoute : DiscModel {
  InputId blank, copper, nickel, burnished, collar;

  static constexpr double um = 1e-6;

  PlatedRoute() {
    const auto metal = [&](const std::string& step, const std::string& path, double density) {
      return route::Metal{path, of(step, path + ".conductivity", 10e6), of(step, path + ".permeability", 1.0),
                          of(step, path + ".density", density), of(step, path + ".temperature coefficient", 0.0)};
    };
    const auto bath = [&](const std::string& name, double face, double density) {
      route::Bath made;
      made.name = name;
      const std::string step = "bath " + name, path = "bath." + name;
      made.metal = metal(step, path, density);
      made.amount = of(step, path + ".thickness", face);
      made.piece_to_piece = of(step, path + ".piece to piece", 1.0);
      made.rim_to_face = of(step, path + ".rim to face", 1.5);
      made.mean_to_centre = of(step, path + ".mean to centre", 1.0);
      made.minimum_to_mean = of(step, path + ".minimum to mean", 1.0);
      return made;
    };
    blank = of("blank", "blank.thickness", 1.5e-3);
    const route::Blank core{metal("blank", "blank", 7860.0), blank, of("blank", "blank.rimmed diameter", 21.7e-3)};
    const route::Bath first = bath("copper", 20 * um, 8930.0), second = bath("nickel", 6 * um, 8900.0);
    copper = first.amount;
    nickel = second.amount;
    burnished = of("burnish", "burnish.thickness", 0.5 * um);
    const route::Removal removal{"burnish", burnished, of("burnish", "burnish.rim to face", 1.0)};
    collar = of("strike", "strike.collar", 22e-3);
    const route::Strike press{collar,
                              of("strike", "strike.rim thickness", 1.75e-3),
                              of("strike", "strike.rim width", 0.9e-3),
                              of("strike", "strike.rim height.up", 0.12e-3),
                              of("strike", "strike.rim height.down", 0.10e-3),
                              {}};
    model.coin = route::Route{{core, first, removal, second, press}};
    add_channel("mass", signature::Value::mass);
    model.sensor.channels.back().unit = {"g", 1e-3, 0.0};
  }

  InputId of(const std::string& step, const std::string& path, double nominal) {
    const InputId id = add(path, nominal);
    input(id).step = step;
    return id;
  }

  /// Leaves blank and copper alone: the plain cylinder's thickness is a sum.
  void bare() { std::get<route::Route>(model.coin).steps.resize(1); }

  study::Sort& sort(const std::string& name, std::size_t after, study::Sort::Reads reads, study::Limits limits) {
    study::Sort made;
    made.name = name;
    made.path = "sort." + name;
    made.after = after;
    made.reads = reads;
    made.unit = reads == study::Sort::Reads::layer  ? Unit{"um", um, 0.0}
                : reads == study::Sort::Reads::mass ? Unit{"g", 1e-3, 0.0}
                                                    : Unit{"mm", 1e-3, 0.0};
    made.layer = "copper";
    made.limits = limits;
    made.bias = of("sort " + name, made.path + ".bias", 0.0);
    made.repeatability = of("sort " + name, made.path + ".repeatability", 0.0);
    model.sorts.push_back(std::move(made));
    return model.sorts.back();
  }

  study::Result run(std::uint64_t pieces = 65536, std::size_t threads = 2) const {
    study::RunOptions options;
    options.pieces = pieces;
    options.threads = threads;
    return study::run(study::Study(model), options);
  }
};

/// A figure agrees with a closed form within two half-widths of its interval: four standard errors.
inline void agrees(const study::Figure& figure, double exact) {
  REQUIRE(figure.interval);
  const double half = 0.5 * (figure.interval->upper - figure.interval->lower);
  INFO("found " << figure.value << " +- " << half << ", exact " << exact);
  CHECK(std::abs(figure.value - exact) < 2.0 * half);
  CHECK(half < 0.05 * std::abs(exact));
}

}  // namespace mintspread::support
