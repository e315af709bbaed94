#pragma once

#include <cstdint>
#include <optional>
#include <string>

#include "engine/base/problem.hpp"
#include "engine/study/model.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

/// A figure whose sampling error decides how many pieces are drawn.
struct Precision {
  enum class Of { accepted, mean, sd, median, quantile };
  Of of = Of::accepted;
  std::string name;          ///< a machine class, or a channel; empty: every machine class
  double probability = 0.0;  ///< of a quantile: one of those that are printed
  double half_width = 0.0;   ///< wanted half-width of the 95 % interval, > 0: a fraction, or in the channel's unit
  std::string unit{};        ///< in which it was stated, to be checked against the channel's; empty: not stated
  std::uint64_t most_pieces = 100'000'000;
};

/// "accepted by vending", "99.865 % quantile of skin".
std::string describe(const Precision& precision);

/// What is wrong with a precision that a model cannot have: no such class, channel or quantile.
std::optional<Problem> check(const Precision& precision, const ProductionModel& model);

/// The larger half of the figure's 95 % interval; the widest where several classes are meant. NaN without an interval.
double half_width(const Result& result, const Precision& precision);

/// Pieces of the next attempt after one of `pieces` that reached `reached` > wanted: what an error that falls with the
/// root of the pieces would need and a fifth more, at least twice and at most sixteen times as many, because replicates
/// of Sobol' points do better than that root; never more than the most allowed. Each attempt is judged by an interval
/// over all of its at least 32 replicates, or by the exact interval of independent pieces: a rule that looks after
/// every few pieces would stop by luck.
std::uint64_t next_pieces(std::uint64_t pieces, double reached, const Precision& precision);

}  // namespace mintspread::study
