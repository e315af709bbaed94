#pragma once

#include <cstddef>
#include <string>

#include "engine/study/result.hpp"

namespace mintspread::reports {

/// How a report for the terminal is laid out. Columns are Unicode code points; tables wider than `width` are told in
/// several parts, each with its row names, and sentences are wrapped. Nothing is said by colour alone.
struct TextOptions {
  std::size_t width = 100;  ///< columns of the terminal; less than 60 is taken as 60
  bool colour = false;      ///< ANSI colours; the caller decides (a terminal, NO_COLOR, TERM)
};

/// `mintspread run`: acceptance with what limits it, channels with their spread, what is not known, targets, warnings,
/// provenance. Every figure stands with its 95 % interval of sampling error, and shows the digits that interval
/// supports.
std::string run_text(const study::Result& result, const TextOptions& options);

/// A few lines to go by while more is computed: mean and standard deviation of every channel, and what each machine
/// class accepts.
std::string preview_text(const study::Result& result);

/// `mintspread reading`: the nominal coin: its section, its channels, the impedance at each frequency, the decay gates.
std::string reading_text(const study::Result& result, const TextOptions& options);

/// `mintspread check`: every quantity as it was understood, by step, with level, basis and what is not known.
std::string inputs_text(const study::Result& result, const TextOptions& options);

/// `mintspread run A B`: what changes from A to B when both are drawn with common numbers, each difference with its
/// interval.
std::string difference_text(const study::Comparison& comparison, const TextOptions& options);

}  // namespace mintspread::reports
