#pragma once

#include <array>
#include <concepts>
#include <string_view>
#include <type_traits>

#include "engine/study/result.hpp"

namespace mintspread::reports {

// The members of a result under their names, in the order of the file: one list that both the writer and the reader of
// JSON walk, so that they cannot disagree. `visit(name, member)` is called for each member of the object, which may be
// const.

/// What differs between two runs of one study, and may be missing from a file.
constexpr bool is_time(std::string_view name) { return name == "seconds" || name == "threads"; }

/// Words for the kinds of shares, in the order of study::ShareKind.
inline constexpr std::array<std::string_view, 3> share_kinds{"step", "tolerance", "level"};

template <class T, class U>
concept Either = std::same_as<std::remove_const_t<T>, U>;

void each_field(Either<Unit> auto& u, auto&& visit) {
  visit("name", u.name);
  visit("scale", u.scale);
  visit("offset", u.offset);
}

void each_field(Either<study::Interval> auto& i, auto&& visit) {
  visit("lower", i.lower);
  visit("upper", i.upper);
}

void each_field(Either<study::Band> auto& b, auto&& visit) {
  visit("lower", b.lower);
  visit("upper", b.upper);
}

void each_field(Either<study::Figure> auto& f, auto&& visit) {
  visit("value", f.value);
  visit("interval", f.interval);
  visit("band", f.band);
}

void each_field(Either<study::Methods> auto& m, auto&& visit) {
  visit("proportion", m.proportion);
  visit("mean", m.mean);
  visit("sd", m.sd);
  visit("quantile", m.quantile);
  visit("share", m.share);
  visit("lot", m.lot);
}

void each_field(Either<study::Quantile> auto& q, auto&& visit) {
  visit("probability", q.probability);
  visit("figure", q.figure);
}

void each_field(Either<study::Histogram> auto& h, auto&& visit) {
  visit("lower", h.lower);
  visit("upper", h.upper);
  visit("below", h.below);
  visit("above", h.above);
  visit("counts", h.counts);
}

void each_field(Either<study::Spread> auto& s, auto&& visit) {
  visit("pieces", s.pieces);
  visit("mean", s.mean);
  visit("sd", s.sd);
  visit("median", s.median);
  visit("quantiles", s.quantiles);
  visit("smallest", s.smallest);
  visit("largest", s.largest);
  visit("resolution", s.resolution);
  visit("histogram", s.histogram);
}

void each_field(Either<study::BudgetEntry> auto& e, auto&& visit) {
  visit("input", e.input);
  visit("spread", e.spread);
  visit("sensitivity", e.sensitivity);
  visit("contribution", e.contribution);
  visit("tolerance_effect", e.tolerance_effect);
}

void each_field(Either<study::Budget> auto& b, auto&& visit) {
  visit("entries", b.entries);
  visit("worst_case", b.worst_case);
  visit("root_sum_square", b.root_sum_square);
}

void each_field(Either<study::Share> auto& s, auto&& visit) {
  visit("kind", s.kind);
  visit("name", s.name);
  visit("first_order", s.first_order);
  visit("total", s.total);
}

void each_field(Either<study::WindowUse::Level> auto& l, auto&& visit) {
  visit("name", l.name);
  visit("part", l.part);
}

void each_field(Either<study::WindowUse> auto& u, auto&& visit) {
  visit("half_width", u.half_width);
  visit("off_centre", u.off_centre);
  visit("levels", u.levels);
  visit("not_known", u.not_known);
  visit("left", u.left);
}

void each_field(Either<study::ChannelResult> auto& c, auto&& visit) {
  visit("name", c.name);
  visit("kind", c.kind);
  visit("unit", c.unit);
  visit("model", c.model);
  visit("marks", c.marks);
  visit("nominal", c.nominal);
  visit("surface_error", c.surface_error);
  visit("model_error", c.model_error);
  visit("coin", c.coin);
  visit("reading", c.reading);
  visit("undefined", c.undefined);
  visit("budget", c.budget);
  visit("shares", c.shares);
}

void each_field(Either<study::CriterionResult> auto& c, auto&& visit) {
  visit("name", c.name);
  visit("relation", c.relation);
  visit("expression", c.expression);
  visit("unit", c.unit);
  visit("lower", c.lower);
  visit("upper", c.upper);
  visit("nominal", c.nominal);
  visit("accepted", c.accepted);
  visit("rejected_low", c.rejected_low);
  visit("rejected_high", c.rejected_high);
  visit("rejected", c.rejected);
  visit("rejected_only_here", c.rejected_only_here);
  visit("undefined", c.undefined);
  visit("channel", c.channel);
  visit("reading", c.reading);
  visit("use", c.use);
}

void each_field(Either<study::WindowSetResult> auto& w, auto&& visit) {
  visit("machine_class", w.machine_class);
  visit("accepted", w.accepted);
  visit("worst", w.worst);
  visit("criteria", w.criteria);
}

void each_field(Either<study::InputResult> auto& i, auto&& visit) {
  visit("path", i.path);
  visit("step", i.step);
  visit("name", i.name);
  visit("understood", i.understood);
  visit("basis", i.basis);
  visit("level", i.level);
  visit("unit", i.unit);
  visit("nominal", i.nominal);
  visit("mean", i.mean);
  visit("sd", i.sd);
  visit("spread", i.spread);
  visit("known_to", i.known_to);
  visit("out_of_tolerance", i.out_of_tolerance);
}

void each_field(Either<study::TargetResult> auto& t, auto&& visit) {
  visit("text", t.text);
  visit("met", t.met);
  visit("decided", t.decided);
  visit("figure", t.figure);
}

void each_field(Either<study::PlaneSpread> auto& s, auto&& visit) {
  visit("resistance", s.resistance);
  visit("reactance", s.reactance);
  visit("sd_resistance", s.sd_resistance);
  visit("sd_reactance", s.sd_reactance);
  visit("correlation", s.correlation);
}

void each_field(Either<study::ImpedanceRow> auto& r, auto&& visit) {
  visit("coils", r.coils);
  visit("frequency", r.frequency);
  visit("resistance", r.resistance);
  visit("reactance", r.reactance);
  visit("normalised_resistance", r.normalised_resistance);
  visit("normalised_reactance", r.normalised_reactance);
  visit("through", r.through);
  visit("spread", r.spread);
}

void each_field(Either<study::DecayRow> auto& r, auto&& visit) {
  visit("coils", r.coils);
  visit("time", r.time);
  visit("width", r.width);
  visit("ramp", r.ramp);
  visit("voltage", r.voltage);
  visit("mean", r.mean);
  visit("sd", r.sd);
}

void each_field(Either<study::SectionLayer> auto& l, auto&& visit) {
  visit("name", l.name);
  visit("metal", l.metal);
  visit("thickness", l.thickness);
  visit("rim_thickness", l.rim_thickness);
  visit("conductivity", l.conductivity);
  visit("permeability", l.permeability);
  visit("core", l.core);
}

void each_field(Either<study::NominalCoin> auto& c, auto&& visit) {
  visit("diameter", c.diameter);
  visit("thickness", c.thickness);
  visit("field_thickness", c.field_thickness);
  visit("rim_width", c.rim_width);
  visit("rim_height_up", c.rim_height_up);
  visit("rim_height_down", c.rim_height_down);
  visit("mass", c.mass);
  visit("layers", c.layers);
  visit("impedances", c.impedances);
  visit("decays", c.decays);
}

void each_field(Either<study::LotComponent> auto& c, auto&& visit) {
  visit("name", c.name);
  visit("sd", c.sd);
}

void each_field(Either<study::LotChannel> auto& c, auto&& visit) {
  visit("name", c.name);
  visit("components", c.components);
}

void each_field(Either<study::LotChance> auto& c, auto&& visit) {
  visit("rate", c.rate);
  visit("chance", c.chance);
}

void each_field(Either<study::LotWindow> auto& w, auto&& visit) {
  visit("machine_class", w.machine_class);
  visit("mean_rejected", w.mean_rejected);
  visit("rejected", w.rejected);
  visit("chances", w.chances);
}

void each_field(Either<study::LotResult> auto& l, auto&& visit) {
  visit("lot", l.lot);
  visit("load", l.load);
  visit("lots", l.lots);
  visit("pieces_a_lot", l.pieces_a_lot);
  visit("windows", l.windows);
  visit("channels", l.channels);
}

void each_field(Either<study::SortResult> auto& s, auto&& visit) {
  visit("name", s.name);
  visit("reads", s.reads);
  visit("unit", s.unit);
  visit("lower", s.lower);
  visit("upper", s.upper);
  visit("out", s.out);
  visit("reworked", s.reworked);
  visit("scrapped", s.scrapped);
}

void each_field(Either<study::MetalResult> auto& m, auto&& visit) {
  visit("bath", m.bath);
  visit("metal", m.metal);
  visit("mass", m.mass);
  visit("accepted", m.accepted);
}

void each_field(Either<study::YieldResult> auto& y, auto&& visit) {
  visit("started", y.started);
  visit("finished_pieces", y.finished_pieces);
  visit("finished", y.finished);
  visit("sorts", y.sorts);
  visit("metals", y.metals);
}

void each_field(Either<study::AcceptedWhere> auto& a, auto&& visit) {
  visit("lower", a.lower);
  visit("upper", a.upper);
  visit("pieces", a.pieces);
  visit("accepted", a.accepted);
}

void each_field(Either<study::StageWindow> auto& w, auto&& visit) {
  visit("machine_class", w.machine_class);
  visit("at_least", w.at_least);
  visit("cells", w.cells);
  visit("secures", w.secures);
}

void each_field(Either<study::StageResult> auto& s, auto&& visit) {
  visit("name", s.name);
  visit("reads", s.reads);
  visit("unit", s.unit);
  visit("correlations", s.correlations);
  visit("windows", s.windows);
}

void each_field(Either<study::StagesResult> auto& s, auto&& visit) {
  visit("quantities", s.quantities);
  visit("method", s.method);
}

void each_field(Either<study::PrecisionResult> auto& p, auto&& visit) {
  visit("figure", p.figure);
  visit("unit", p.unit);
  visit("wanted", p.wanted);
  visit("reached", p.reached);
  visit("met", p.met);
}

void each_field(Either<study::Correlation> auto& c, auto&& visit) {
  visit("first", c.first);
  visit("second", c.second);
  visit("figure", c.figure);
}

void each_field(Either<study::RelationLine> auto& l, auto&& visit) {
  visit("set", l.set);
  visit("criterion", l.criterion);
  visit("across", l.across);
  visit("up", l.up);
  visit("limit", l.limit);
  visit("x", l.x);
  visit("y", l.y);
}

void each_field(Either<study::SampleRejects> auto& r, auto&& visit) {
  visit("set", r.set);
  visit("criterion", r.criterion);
  visit("positions", r.positions);
}

void each_field(Either<study::Sample> auto& s, auto&& visit) {
  visit("fair", s.fair);
  visit("pieces", s.pieces);
  visit("readings", s.readings);
  visit("rejects", s.rejects);
}

void each_field(Either<study::JointResult> auto& j, auto&& visit) {
  visit("correlations", j.correlations);
  visit("method", j.method);
  visit("lines", j.lines);
  visit("sample", j.sample);
}

void each_field(Either<study::Provenance> auto& p, auto&& visit) {
  visit("specification_file", p.specification_file);
  visit("specification_hash", p.specification_hash);
  visit("engine_version", p.engine_version);
  visit("model_version", p.model_version);
  visit("compiler", p.compiler);
  visit("processor_path", p.processor_path);
  visit("seed", p.seed);
  visit("pieces", p.pieces);
  visit("outer_draws", p.outer_draws);
  visit("outer_pieces", p.outer_pieces);
  visit("design", p.design);
  visit("planar_error", p.planar_error);
  visit("disc_solutions", p.disc_solutions);
  visit("disc_failed", p.disc_failed);
  visit("seconds", p.seconds);
  visit("threads", p.threads);
}

void each_field(Either<study::Result> auto& r, auto&& visit) {
  visit("coin", r.coin);
  visit("state", r.state);
  visit("construction", r.construction);
  visit("note", r.note);
  visit("sensor", r.sensor);
  visit("nominal", r.nominal);
  visit("channels", r.channels);
  visit("windows", r.windows);
  visit("joint", r.joint);
  visit("inputs", r.inputs);
  visit("targets", r.targets);
  visit("warnings", r.warnings);
  visit("yield", r.yield);
  visit("stages", r.stages);
  visit("lots", r.lots);
  visit("precision", r.precision);
  visit("unsolved", r.unsolved);
  visit("first_unsolved", r.first_unsolved);
  visit("outside", r.outside);
  visit("methods", r.methods);
  visit("provenance", r.provenance);
}

void each_field(Either<study::Change> auto& c, auto&& visit) {
  visit("first", c.first);
  visit("second", c.second);
  visit("difference", c.difference);
}

void each_field(Either<study::ChannelChange> auto& c, auto&& visit) {
  visit("name", c.name);
  visit("unit", c.unit);
  visit("mean", c.mean);
  visit("sd", c.sd);
}

void each_field(Either<study::WindowChange> auto& w, auto&& visit) {
  visit("machine_class", w.machine_class);
  visit("accepted", w.accepted);
}

void each_field(Either<study::Comparison> auto& c, auto&& visit) {
  visit("first", c.first);
  visit("second", c.second);
  visit("pieces", c.pieces);
  visit("seed", c.seed);
  visit("channels", c.channels);
  visit("windows", c.windows);
  visit("only_first", c.only_first);
  visit("only_second", c.only_second);
  visit("method", c.method);
}

}  // namespace mintspread::reports
