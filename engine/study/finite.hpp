#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <stop_token>
#include <string>
#include <string_view>
#include <vector>

#include "engine/base/problem.hpp"
#include "engine/signature/finite_coin.hpp"
#include "engine/study/result.hpp"
#include "engine/study/study.hpp"

namespace mintspread::study {

/// What finite coins are solved for.
enum class FiniteScope {
  production,  ///< all pieces
  nominal      ///< the nominal piece under nominal conditions alone: one solution a frequency
};

struct FiniteOptions {
  std::size_t threads = 0;               ///< 0: all
  std::function<void(double)> progress;  ///< called with the fraction done, from one thread at a time
  std::stop_token stop;
};

/// The finite coins of a study: over which states they are solved, and the solving.
///
/// A pilot of pieces, drawn about the nominal centres and about draws of what is not known, tells the range of every
/// number that the disc depends on. It is snapped outward to a coarse grid, so that a nominal moved a little or a
/// tolerance widened within the grid asks for the same solutions: equal boxes of equal sensors are equal to the byte.
class FinitePreparation {
 public:
  /// `planar`: the study without finite coins; must outlive this.
  explicit FinitePreparation(const Study& planar, FiniteScope scope = FiniteScope::production);

  /// Everything that bytes() depends on besides the program itself.
  std::string key() const;

  /// Disc solutions at one complex frequency that solve() takes.
  std::size_t solutions() const;
  /// How long solve() takes: one solution is tried.
  double expected_seconds(std::size_t threads) const;

  /// Throws Interrupted, or InvalidSpecification when too many solutions fail.
  signature::FiniteCoins solve(const FiniteOptions& options) const;

  static std::string bytes(const signature::FiniteCoins& coins);
  std::optional<signature::FiniteCoins> from_bytes(std::string_view bytes) const;

 private:
  struct Lying {
    signature::SideUp up;
    std::vector<signature::StateRange> box;
  };
  signature::FiniteCoinPlan plan(const Lying& lying) const;

  const Study* study_;
  std::vector<Lying> lying_;  ///< one, or one a side of a coin whose sides differ
};

/// Channels of a run whose response surface is off by more than a tenth of the reading's standard deviation and by more
/// than the solution that it stands on: such a spread is the surface's own and not to be told.
std::vector<Problem> rough_surfaces(const Result& result);

}  // namespace mintspread::study
