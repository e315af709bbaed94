#pragma once

#include <complex>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <stdexcept>
#include <stop_token>
#include <vector>

#include "engine/base/problem.hpp"
#include "engine/signature/finite_coin.hpp"
#include "engine/study/model.hpp"
#include "engine/study/precision.hpp"
#include "engine/study/result.hpp"

namespace mintspread::study {

struct StudyOptions {
  double planar_tolerance = 1e-6;   ///< of the planar quadrature, relative to |dZ|
  signature::FiniteCoins finite{};  ///< from a FinitePreparation of the same model; none: coins of unlimited width
  /// For each sort, from a FinitePreparation of model_of_sort(); empty, or none for one: it reads as of unlimited
  /// width.
  std::vector<signature::FiniteCoins> finite_at_sorts{};
  /// The study will be made again with finite coins: what sorts keep is not judged from the first that reads a channel.
  bool provisional = false;
};

/// A production model made ready to run: validated, quadrature rules checked over the range of its pieces, edges of the
/// distributions taken from a pilot. Immutable; may be used from several threads.
class Study {
 public:
  /// Throws InvalidSpecification with every problem, addressed by path.
  explicit Study(ProductionModel model, const StudyOptions& options = {});
  ~Study();
  Study(Study&&) noexcept;
  Study& operator=(Study&&) noexcept;

  const ProductionModel& model() const;
  /// What is suspicious but can be computed: contradictions with numbers.
  const std::vector<Problem>& warnings() const;

  struct Prepared;
  const Prepared& prepared() const { return *prepared_; }

 private:
  std::unique_ptr<const Prepared> prepared_;
};

enum class Points {
  plain,  ///< independent pieces
  /// Scrambled Sobol' points in independent replicates; the number of pieces is rounded up to whole nets. Fewer pieces
  /// than fill them are drawn plainly.
  sobol
};

struct RunOptions {
  std::uint64_t seed = 1;
  std::uint64_t pieces = 262144;
  std::optional<Precision> until;  ///< more pieces than that, until a figure is known so well
  Points points = Points::sobol;
  std::size_t outer_draws = 24;          ///< draws of what is not known; 0 skips the band
  std::uint64_t outer_pieces = 16384;    ///< pieces for each of them
  bool coin_spread = true;               ///< also the spread of the coins alone, at nominal conditions without noise
  std::size_t threads = 0;               ///< 0: all
  std::function<void(double)> progress;  ///< called with the fraction done, from one thread at a time
  std::stop_token stop;
};

/// A run that was asked to stop.
class Interrupted : public std::runtime_error {
 public:
  Interrupted() : std::runtime_error("interrupted") {}
};

/// The nominal coin: its section, its impedances, its channels; inputs with their exact spread. No draws.
Result nominal_reading(const Study& study);

/// Flat design: each piece has its own draw of every group. Same study and options (threads aside), same result. With
/// `until`, attempts of growing size until one is precise enough; the figures are those of a run of the last attempt's
/// pieces alone.
Result run(const Study& study, const RunOptions& options);

}  // namespace mintspread::study
