#pragma once

#include <cstddef>
#include <string>
#include <utility>
#include <vector>

#include "engine/study/result.hpp"

namespace mintspread::reports {

// What the terminal and the page both say about a result, in sentences; and the order in which they say it.

/// A window on a subject: which class, which criterion of it.
struct Window {
  std::size_t set, criterion;
};

/// What is judged: a channel, or a relation of one machine class.
struct Subject {
  std::string name;
  std::string kind;  ///< what the channel is, or the expression of the relation
  std::string unit;
  const study::ChannelResult* channel = nullptr;  ///< null for a relation; points into the result
  const study::Spread* reading = nullptr;         ///< null for a relation whose spread was not kept
  double nominal = 0.0;
  std::vector<std::string> marks;  ///< of the channel, or of the channels the expression names
  std::vector<Window> windows;
  double rejected = 0.0;  ///< largest fraction any of its windows rejects
};

/// Channels and relations, the one that rejects most first, whatever its kind; ties in the order of the sensor.
/// The result must outlive what is returned.
std::vector<Subject> subjects(const study::Result& result);

/// Marks that bear on a criterion: its channel's, or those of every channel its expression names.
std::vector<std::string> marks_of(const study::Result& result, const study::CriterionResult& criterion);

/// "405 .. 452 counts", ">= 28 % IACS".
std::string window_text(const study::CriterionResult& criterion);

/// What the two spreads include: "coin: strip lot, barrel, piece", "reading: those and play, noise (reading)".
struct Included {
  std::string coin, reading;
};
Included included(const study::Result& result);

/// "vending accepts 98.907 % of the coins (95 % interval 98.886 % to 98.928 %)."
std::string verdict(const study::Result& result, const study::WindowSetResult& set);

/// "skin limits it: 0.496 % read above 452 counts, 0.0513 % below 405 counts." or that nothing was rejected.
std::string limit(const study::Result& result, const study::WindowSetResult& set);

/// What a coin is taken as, how well that was solved, and which pieces it does not cover. One sentence each.
std::vector<std::string> model_words(const study::Result& result);

/// How the intervals were made, kind by kind: "fractions t over 32 replicates; mean ...".
std::string method_words(const study::Result& result);

/// "accepted: the 95 % interval is ± 0.0093 % wide; ± 0.01 % was asked for." or that the most pieces came first.
std::string precision_words(const study::Result& result, const study::PrecisionResult& precision);

/// Inputs by basis, the most certain first: "measured" and the inputs with that basis. Exact inputs are left out.
std::vector<std::pair<std::string, std::vector<const study::InputResult*>>> inputs_by_basis(
    const study::Result& result);

/// Inputs that are fixed in the plant but not known.
std::vector<const study::InputResult*> unknown_inputs(const study::Result& result);

/// The path of an input below its step: "thickness" of "bath.outer nickel.thickness", "coils.face.recess" of the
/// sensor's.
std::string path_in_step(const study::InputResult& input);

/// What to do next, the most urgent first; never empty. `names_inputs` false leaves out what names an input.
std::vector<std::string> next_steps(const study::Result& result, bool names_inputs);

/// What the answer does not cover.
std::vector<std::string> not_covered(const study::Result& result);

/// What the electromagnetic channels leave out of the coin. One sentence, without a word of its construction.
std::string beyond_the_model(const study::Result& result);

/// The cautions that stand in every report for people.
std::vector<std::string> cautions();

/// "met", "missed", "undecided: the interval straddles the target".
std::string target_word(const study::TargetResult& target);

/// Where the result comes from, in one line: file, hash, seed, pieces, versions. Of a reading what a run adds is left
/// out.
std::string origin(const study::Result& result);

/// "a, b, c and 34 more".
std::string some_of(std::vector<std::string> names);

/// "a, b and c".
std::string list_of(const std::vector<std::string>& names);

}  // namespace mintspread::reports
