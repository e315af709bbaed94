#pragma once

#include <cstddef>
#include <limits>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "engine/base/input_id.hpp"
#include "engine/base/unit.hpp"
#include "engine/route/route.hpp"
#include "engine/sampling/distribution.hpp"
#include "engine/signature/sensor.hpp"

namespace mintspread::study {

// What a specification says, typed and in SI units: plain data, made by the reader, immutable afterwards.

/// Where an input comes from.
enum class Basis { unstated, measured, handbook, supplier, guess, drawing };

/// A named group of pieces that share a draw. The levels `piece` and `reading` always exist, with these positions.
struct Group {
  std::string name;
  std::size_t pieces = 1;  ///< pieces in one unit of the group
  std::string from;        ///< group this one is part of; empty when it stands alone
  std::string mixes;       ///< group whose units this one mixes; empty when it mixes none
  std::size_t mixed_units = 1;
  std::size_t in_turn = 0;  ///< so many of them stand in the plant and take turns; 0: each unit is a new one
};
inline constexpr std::size_t piece_level = 0;
inline constexpr std::size_t reading_level = 1;

/// A slow change over a campaign of `units` units of a group, which then begins anew: additions to a bath, a new tool.
/// The deviation goes through its shape evenly from the lowest value to the highest, or the other way.
struct Drift {
  std::size_t level = piece_level;  ///< position of the group in ProductionModel::groups
  std::size_t units = 1;
  bool falling = false;
  bool operator==(const Drift&) const = default;
};

/// One source of spread of an input.
struct Component {
  sampling::Shape deviation;
  bool relative = false;            ///< the deviation is a fraction of the centre
  std::size_t level = piece_level;  ///< position in ProductionModel::groups
  /// Steps from piece to piece, or from unit to unit where `level` is the drift's own group.
  std::optional<Drift> drift = {};
};

/// The range of a centre that is fixed in the plant but not known to us; the distribution of the belief.
struct KnownTo {
  double lower, upper;  ///< SI, uniform belief on [lower, upper]
};

struct Limits {
  double lower = -std::numeric_limits<double>::infinity();
  double upper = std::numeric_limits<double>::infinity();
  bool bounded() const {
    return lower > -std::numeric_limits<double>::infinity() || upper < std::numeric_limits<double>::infinity();
  }
};

/// Every number of a specification that a route, a section or a sensor uses, constant or spread.
/// value in a lane = centre + sum of absolute deviations + centre * sum of relative deviations,
/// where centre is `nominal`, or the outer draw of `known_to`.
struct Input {
  std::string path;  ///< "bath.copper.thickness": address of its draws and of its line in the file
  std::string step;  ///< step of the route, "sensor" for conditions and noise, "section" for a direct coin
  std::string name;  ///< "thickness"
  Unit unit;
  double nominal = 0.0;  ///< SI
  std::vector<Component> components;
  std::optional<KnownTo> known_to;
  Limits tolerance;  ///< limits of the specification; out-of-tolerance pieces are counted, not removed
  double smallest =
      -std::numeric_limits<double>::infinity();  ///< physical bound: a draw beyond it is a piece that cannot be made
  double largest = std::numeric_limits<double>::infinity();
  Basis basis = Basis::unstated;
  std::string basis_note;  ///< "n = 40, xrf.csv"
  std::string understood;  ///< one line: the quantity as this program reads it
};

/// Rank (Spearman) correlation of two inputs, applied to their first components.
struct RankCorrelation {
  InputId first, second;
  double rank;  ///< in (-1, 1)
  std::string path;
};

/// A limit on one channel, or on an expression of channels (a relation).
struct Criterion {
  std::string name;
  std::string path;
  std::optional<std::size_t> channel;  ///< position in Sensor::channels; empty for a relation
  std::string expression;              ///< of channel names, for a relation
  Limits limits;                       ///< in the unit the channel is read in
};

/// The windows of one class of machines: a coin is accepted when every criterion holds.
struct WindowSet {
  std::string machine_class;
  std::string file;
  std::vector<Criterion> criteria;
};

/// "accepted by vending >= 99.9 %": decides the exit status of a run.
struct Target {
  std::string text;
  std::string path;
  std::string machine_class;  ///< empty: every class
  double at_least = 0.0;      ///< fraction accepted
};

/// A sort in the route: what reads outside of the limits at this stage leaves it, or is redone. The reading is one of
/// the sensor's channels under nominal conditions, without its noise and resolution, or a dimension; its error is the
/// sort's own. With `load`, the mean of `test_pieces` pieces of a load decides about all of it.
struct Sort {
  enum class Reads { channel, thickness, diameter, mass, layer };
  std::string name, path;
  std::size_t after = 1;  ///< steps of the route before it
  Reads reads = Reads::thickness;
  std::size_t channel = 0;          ///< position in Sensor::channels
  std::string layer;                ///< bath whose thickness at the face centre is read
  Unit unit;                        ///< of the reading
  Limits limits;                    ///< in that unit
  InputId bias{}, repeatability{};  ///< added to every reading, SI of that unit
  std::optional<std::size_t> load = {};
  std::size_t test_pieces = 1;
  std::size_t times = 0;                 ///< what is out is redone so often at most before it is scrapped
  std::vector<std::string> redone = {};  ///< steps (Input::step) that rework goes through, whose inputs are drawn anew
  std::vector<std::string> later = {};   ///< steps after it, whose inputs a piece does not have yet when it is read
  std::vector<std::string> stripped = {};  ///< baths among them, whose metal comes off first
};
inline constexpr std::size_t most_sorts = 16, most_test_pieces = 100, most_reworks = 9;

using Coin = std::variant<route::Route, route::Section>;

struct ProductionModel {
  std::string name;          ///< with its state: "invented 22 mm, worn"
  std::string state;         ///< as stated: "worn"; empty for a coin as struck
  std::string construction;  ///< as stated: "multi-layer"
  std::string note;
  std::vector<Group> groups;  ///< [0] piece, [1] reading, then as stated
  std::vector<Input> inputs;
  std::vector<RankCorrelation> correlations;
  Coin coin;
  std::vector<Sort> sorts;  ///< in the order of the route
  signature::Sensor sensor;
  std::vector<WindowSet> windows;
  std::vector<Target> targets;
};

}  // namespace mintspread::study
