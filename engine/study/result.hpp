#pragma once

#include <array>
#include <cstdint>
#include <limits>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/unit.hpp"

namespace mintspread::study {

// What a run found: plain data, everything a report prints, nothing a report would have to compute.
// Channel figures are in the unit the channel is read in; inputs in SI with their unit beside them.

inline constexpr int result_format_major = 1;
inline constexpr int result_format_minor = 0;

/// 95 % interval for the sampling error of a figure, inputs and model taken as true.
struct Interval {
  double lower, upper;
  bool operator==(const Interval&) const = default;
};

/// What an unknown but fixed input does to a figure: the range over the outer draws.
struct Band {
  double lower, upper;
  bool operator==(const Band&) const = default;
};

/// A number with its uncertainty.
struct Figure {
  double value = std::numeric_limits<double>::quiet_NaN();
  std::optional<Interval> interval;
  std::optional<Band> band;
  bool operator==(const Figure&) const = default;
};

/// How an interval was made: "Clopper-Pearson", "order statistics", "normal theory with measured kurtosis".
struct Methods {
  std::string proportion, mean, sd, quantile;
  std::string share{}, lot{};  ///< empty where there are no such figures
  bool operator==(const Methods&) const = default;
};

struct Quantile {
  double probability;
  Figure figure;
  bool operator==(const Quantile&) const = default;
};

/// A distribution on equal bins for drawing: counts below, in and above the edges.
struct Histogram {
  double lower = 0.0, upper = 0.0;
  std::vector<std::uint64_t> counts;
  std::uint64_t below = 0, above = 0;
  bool operator==(const Histogram&) const = default;
};

struct Spread {
  std::uint64_t pieces = 0;  ///< with a value
  Figure mean, sd, median;
  std::vector<Quantile> quantiles;  ///< 0.135, 2.5, 97.5, 99.865 %
  double smallest = 0.0, largest = 0.0;
  double resolution = 0.0;  ///< of the quantiles: width of the bins they are interpolated in
  Histogram histogram;
  bool operator==(const Spread&) const = default;
};

/// What one input does to a channel. Spreads and sensitivities refer to SI units of the input.
struct BudgetEntry {
  std::size_t input;        ///< position in Result::inputs
  double spread;            ///< standard deviation of the input
  Figure sensitivity;       ///< change of the reading per unit of the input; no interval: nothing is sampled
  Figure contribution;      ///< standard deviation it causes in the reading; no interval
  double tolerance_effect;  ///< what half the input's tolerance does to the reading
  bool operator==(const BudgetEntry&) const = default;
};

struct Budget {
  std::vector<BudgetEntry> entries;     ///< largest contribution first
  Figure worst_case{0.0, {}, {}};       ///< sum of the tolerance effects
  Figure root_sum_square{0.0, {}, {}};  ///< root of the sum of their squares
  bool operator==(const Budget&) const = default;
};

enum class ShareKind { step, tolerance, level };

/// Part of the variance of a channel's reading owed to a step, a tolerance (by the input's path) or a level.
struct Share {
  ShareKind kind;
  std::string name;
  Figure first_order;  ///< alone; may come out negative by sampling error
  Figure total;        ///< with all interactions
  bool operator==(const Share&) const = default;
};

/// How half of a window is used up, in the unit of the channel; the parts and what is left add up to the half-width.
struct WindowUse {
  double half_width = 0.0;
  Figure off_centre{0.0, {}, {}};
  struct Level {
    std::string name;
    Figure part;
    bool operator==(const Level&) const = default;
  };
  std::vector<Level> levels;  ///< three standard deviations of the reading, shared by variance
  double not_known = 0.0;     ///< a range over draws, so it has no interval of its own
  Figure left{0.0, {}, {}};
  bool operator==(const WindowUse&) const = default;
};

struct ChannelResult {
  std::string name;
  std::string kind;  ///< "reactance at 240 kHz, coil face"
  std::string unit;
  std::string model;               ///< "planar", "finite coin", "dimension", "expression"
  std::vector<std::string> marks;  ///< why the value is known to be wrong here; empty when it is not
  double nominal = 0.0;
  /// Of the finite coin; 0 without one: root mean square error of its response surface at states it was not fitted to,
  /// which differs from piece to piece; and that together with the estimated error of its solution, which all share.
  double surface_error = 0.0, model_error = 0.0;
  Spread coin;                  ///< conditions at nominal, no noise, no resolution
  Spread reading;               ///< everything
  std::uint64_t undefined = 0;  ///< pieces without a value: they fail every window that uses the channel
  std::optional<Budget> budget;
  std::vector<Share> shares;  ///< by kind, largest total first; empty when not asked for
  bool operator==(const ChannelResult&) const = default;
};

/// One criterion of a window set.
struct CriterionResult {
  std::string name;
  bool relation = false;
  std::string expression;
  std::string unit;
  double lower, upper;  ///< may be infinite
  double nominal = 0.0;
  Figure accepted;  ///< fraction of pieces that meet this criterion
  Figure rejected_low, rejected_high;
  Figure rejected;            ///< low, high or undefined
  Figure rejected_only_here;  ///< pieces that meet every other criterion of the set
  std::uint64_t undefined = 0;
  std::optional<std::size_t> channel;
  std::optional<Spread>
      reading;  ///< of a relation's expression, everything included; a channel's own spread stands with the channel
  std::optional<WindowUse> use;  ///< of a window on a channel
  bool operator==(const CriterionResult&) const = default;
};

struct WindowSetResult {
  std::string machine_class;
  Figure accepted;  ///< fraction that meets every criterion
  std::vector<CriterionResult> criteria;
  std::optional<std::size_t> worst;  ///< criterion that rejects most; empty when nothing is rejected
  bool operator==(const WindowSetResult&) const = default;
};

struct InputResult {
  std::string path, step, name, understood, basis, level;
  Unit unit;
  double nominal = 0.0;
  double mean = 0.0, sd = 0.0;  ///< from its shapes about the nominal centre, SI
  bool spread = false;
  bool known_to = false;
  std::optional<Figure> out_of_tolerance;
  bool operator==(const InputResult&) const = default;
};

struct TargetResult {
  std::string text;
  bool met = false;
  bool decided = true;  ///< false: the interval straddles the target
  Figure figure;
  bool operator==(const TargetResult&) const = default;
};

/// Spread of an impedance over production, conditions as drawn and without noise.
struct PlaneSpread {
  Figure resistance, reactance;        ///< means, ohm
  Figure sd_resistance, sd_reactance;  ///< ohm
  Figure correlation;
  bool operator==(const PlaneSpread&) const = default;
};

/// Impedance of one drive/receive pair at the nominal coin.
struct ImpedanceRow {
  std::string coils;
  double frequency;
  double resistance, reactance;                        ///< ohm; change against air, or total for through-transmission
  double normalised_resistance, normalised_reactance;  ///< NaN for through-transmission
  bool through = false;
  std::optional<PlaneSpread> spread = {};  ///< of a run
  bool operator==(const ImpedanceRow&) const = default;
};

struct DecayRow {
  std::string coils;
  double time, width, ramp;
  double voltage;                            ///< V per the channel's drive current
  std::optional<Figure> mean = {}, sd = {};  ///< over production, conditions as drawn and without noise; of a run
  bool operator==(const DecayRow&) const = default;
};

/// The nominal coin's section from the upper face down, for drawing.
struct SectionLayer {
  std::string name, metal;
  double thickness, rim_thickness;  ///< m
  double conductivity, permeability;
  bool core = false;
  bool operator==(const SectionLayer&) const = default;
};

struct NominalCoin {
  double diameter = 0.0, thickness = 0.0, field_thickness = 0.0, rim_width = 0.0, rim_height_up = 0.0,
         rim_height_down = 0.0, mass = 0.0;
  std::vector<SectionLayer> layers;
  std::vector<ImpedanceRow> impedances;
  std::vector<DecayRow> decays;
  bool operator==(const NominalCoin&) const = default;
};

/// Standard deviation of a channel owed to one group alone, or to groups acting together; negative where its variance
/// was estimated below zero.
struct LotComponent {
  std::string name;
  Figure sd;
  bool operator==(const LotComponent&) const = default;
};

struct LotChannel {
  std::string name;
  std::vector<LotComponent> components;
  bool operator==(const LotChannel&) const = default;
};

/// Chance that a lot has a larger rejected fraction than `rate`.
struct LotChance {
  double rate;
  Figure chance;
  bool operator==(const LotChance&) const = default;
};

struct LotWindow {
  std::string machine_class;
  Figure mean_rejected;
  std::vector<Quantile> rejected;  ///< of the lots' rejected fractions: 5, 50, 95 %
  std::vector<LotChance> chances;
  bool operator==(const LotWindow&) const = default;
};

/// Figures about lots, from the nested design; intervals count lots.
struct LotResult {
  std::string lot, load;  ///< groups; `load` empty when a lot has no parts
  std::uint64_t lots = 0, pieces_a_lot = 0;
  std::vector<LotWindow> windows;
  std::vector<LotChannel> channels;
  bool operator==(const LotResult&) const = default;
};

/// What a sort in the route did.
struct SortResult {
  std::string name;
  std::string reads;  ///< "mass", "thickness of copper, 5 per barrel"
  std::string unit;
  double lower, upper;  ///< may be infinite
  Figure out;           ///< fraction of the pieces that come to it, at their first reading
  Figure reworked;      ///< reworks for a piece that comes to it
  Figure scrapped;      ///< fraction of the pieces that were started
  bool operator==(const SortResult&) const = default;
};

/// Metal that goes onto pieces, scrapped, stripped and pickled metal included.
struct MetalResult {
  std::string bath, metal;
  Figure mass;                   ///< kg for a million finished pieces
  std::vector<Figure> accepted;  ///< kg for a million that a class accepts, in the order of Result::windows
  bool operator==(const MetalResult&) const = default;
};

/// Pieces in, pieces out; of a route with sorts. All other figures of a run are of the finished pieces, shares and
/// budgets of pieces before sorting.
struct YieldResult {
  std::uint64_t started = 0, finished_pieces = 0;
  Figure finished;  ///< fraction of the started pieces
  std::vector<SortResult> sorts;
  std::vector<MetalResult> metals;
  bool operator==(const YieldResult&) const = default;
};

/// Finished pieces whose reading on the way lies in an interval; an open end is infinite.
struct AcceptedWhere {
  double lower, upper;
  Figure pieces;    ///< fraction of all finished pieces
  Figure accepted;  ///< of those in the interval
  bool operator==(const AcceptedWhere&) const = default;
};

/// What a reading on the way says of the acceptance by a class of machines.
struct StageWindow {
  std::string machine_class;
  std::optional<double> at_least;    ///< the target's fraction accepted; empty without a target
  std::vector<AcceptedWhere> cells;  ///< rising, about a tenth of the pieces each
  std::optional<AcceptedWhere>
      secures;  ///< the window that keeps most of those that reach the target; empty: none does
  bool operator==(const StageWindow&) const = default;
};

/// Something that was read of the pieces on their way, or that their blanks are, beside the finished coins.
struct StageResult {
  std::string name;   ///< "sort blanks", "read copper", "blank"
  std::string reads;  ///< "mass"
  std::string unit;
  std::vector<Figure> correlations;  ///< Pearson's, with each channel's reading
  std::vector<StageWindow> windows;  ///< of every class
  bool operator==(const StageResult&) const = default;
};

struct StagesResult {
  std::vector<StageResult> quantities;  ///< in the order of the route, then those of the blank
  std::string method;                   ///< of the correlations' intervals
  bool operator==(const StagesResult&) const = default;
};

/// A precision that was asked for and what became of it.
struct PrecisionResult {
  std::string figure;                  ///< "accepted by vending", "mean of skin"
  std::string unit;                    ///< "%" for fractions
  double wanted = 0.0, reached = 0.0;  ///< half-widths of the 95 % interval
  bool met = false;                    ///< false: the most pieces allowed came first
  bool operator==(const PrecisionResult&) const = default;
};

/// Pearson's correlation of two channels' readings, over the pieces that have both.
struct Correlation {
  std::size_t first, second;  ///< positions in Result::channels, first < second
  Figure figure;
  bool operator==(const Correlation&) const = default;
};

/// Where a relation of exactly two channels meets one of its limits, in the plane of the two: points from one end of
/// the readings' range to the other, for drawing.
struct RelationLine {
  std::size_t set, criterion;  ///< positions in Result::windows and in its criteria
  std::size_t across, up;      ///< positions in Result::channels
  double limit;
  std::vector<double> x, y;  ///< readings of `across` and `up`
  bool operator==(const RelationLine&) const = default;
};

/// Pieces of a sample that one criterion rejects.
struct SampleRejects {
  std::size_t set, criterion;
  std::vector<std::uint64_t> positions;  ///< in Sample::pieces
  bool operator==(const SampleRejects&) const = default;
};

/// Whole pieces of the run: the first `fair` of them as they came, after these only pieces that some machine class
/// rejects, the first ones of each class. So the fair part has the proportions of production, the rest has not.
struct Sample {
  std::uint64_t fair = 0;
  std::vector<std::uint64_t> pieces;          ///< index of each in the run, rising
  std::vector<std::vector<double>> readings;  ///< [channel][piece]; NaN without a value
  std::vector<SampleRejects> rejects;         ///< criteria that reject any of them
  bool operator==(const Sample&) const = default;
};

/// Channels taken together.
struct JointResult {
  std::vector<Correlation> correlations;  ///< every pair of channels, in their order
  std::string method;                     ///< of their intervals
  std::vector<RelationLine> lines;
  Sample sample;
  bool operator==(const JointResult&) const = default;
};

struct Provenance {
  std::string specification_file;
  std::string specification_hash;  ///< SHA-256 of the canonical specification, includes and overrides
  std::string engine_version, model_version;
  std::string compiler, processor_path;
  std::uint64_t seed = 0;
  std::uint64_t pieces = 0;
  std::uint64_t outer_draws = 0, outer_pieces = 0;
  std::string design;         ///< "flat, plain draws"
  double planar_error = 0.0;  ///< largest relative error found when the quadrature rules were checked for this job
  std::uint64_t disc_solutions = 0;  ///< coins that the finite coin was solved for; 0: taken as of unlimited width
  std::uint64_t disc_failed = 0;     ///< of them without a solution, left out of the surfaces
  double seconds = 0.0;              ///< of computing; left out of files on request for byte comparison
  std::size_t threads = 0;
  bool operator==(const Provenance&) const = default;
};

struct Result {
  std::string coin;   ///< its name; ends in ", " and its state where it has one
  std::string state;  ///< coins that differ in it alone are one coin at several ages
  std::string construction, note, sensor;
  NominalCoin nominal;
  std::vector<ChannelResult> channels;
  std::vector<WindowSetResult> windows;
  std::optional<JointResult> joint;  ///< of a run
  std::vector<InputResult> inputs;
  std::vector<TargetResult> targets;
  std::vector<std::string> warnings;
  std::optional<YieldResult> yield;           ///< of a run, where the route sorts
  std::optional<StagesResult> stages;         ///< of a run, where the route sorts or reads
  std::optional<LotResult> lots;              ///< when asked for
  std::optional<PrecisionResult> precision;   ///< when asked for
  std::uint64_t outside = 0;                  ///< pieces beyond what the finite coin was solved for, read all the same
  std::uint64_t unsolved = 0;                 ///< pieces left out because a model failed; bounds are widened by them
  std::vector<std::uint64_t> first_unsolved;  ///< indices, to recompute just those pieces
  Methods methods;
  Provenance provenance;
  bool operator==(const Result&) const = default;
};

/// A column of the samples of a run.
struct SampleColumn {
  std::string name;
  std::string unit;  ///< empty for pure numbers
};

/// One figure of two specifications and its change, B less A.
struct Change {
  double first, second;
  Figure difference;
  bool operator==(const Change&) const = default;
};

struct ChannelChange {
  std::string name, unit;
  Change mean, sd;
  bool operator==(const ChannelChange&) const = default;
};

struct WindowChange {
  std::string machine_class;
  Change accepted;
  bool operator==(const WindowChange&) const = default;
};

/// Two specifications drawn with common numbers: quantities at the same path share their draws, so what both have in
/// common cancels in the differences.
struct Comparison {
  std::string first, second;  ///< names of the coins
  std::uint64_t pieces = 0, seed = 0;
  std::vector<ChannelChange> channels;               ///< those with the same name and unit in both
  std::vector<WindowChange> windows;                 ///< machine classes of both
  std::vector<std::string> only_first, only_second;  ///< channels and classes that the other has not
  std::string method;
  bool operator==(const Comparison&) const = default;
};

}  // namespace mintspread::study
