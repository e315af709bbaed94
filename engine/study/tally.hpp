#pragma once

#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <vector>

#include "engine/base/columns.hpp"
#include "engine/signature/sensor_model.hpp"
#include "engine/statistics/binned_counts.hpp"
#include "engine/statistics/moments.hpp"
#include "engine/study/joint_tally.hpp"
#include "engine/study/model.hpp"
#include "engine/study/sort_tally.hpp"
#include "engine/study/stage_tally.hpp"

namespace mintspread::study {

/// Pieces whose index is kept when their model failed, so that just they can be recomputed.
inline constexpr std::size_t kept_unsolved = 10;

/// Moments and binned counts of one quantity; NaN values are counted apart.
struct DistributionTally {
  explicit DistributionTally(const statistics::BinEdges& edges) : counts(edges) {}
  /// NaN without a value, of which `removed` are of pieces that are not there.
  void add(std::span<const double> values, std::uint64_t removed = 0);
  void merge(const DistributionTally& later);

  statistics::Moments moments;
  statistics::BinnedCounts counts;
  std::uint64_t without_value = 0;
};

struct CriterionTally {
  std::uint64_t low = 0, high = 0, undefined = 0;
  std::uint64_t only_here = 0;  ///< pieces that fail this criterion and no other of the set
};

struct WindowTally {
  std::uint64_t accepted = 0;
  std::vector<CriterionTally> criteria;
};

/// What is tallied and on which edges: the same for every chunk of a study.
struct TallyPlan {
  struct Test {
    bool relation;  ///< `column` counts relations, else channels
    std::size_t column;
    double lower, upper;
  };
  std::vector<statistics::BinEdges> coin, reading;  ///< per channel
  std::vector<statistics::BinEdges> relations;      ///< per relation, readings
  std::vector<statistics::BinEdges> stages;         ///< per quantity of Sorter::stages; empty without a sorter
  std::vector<std::vector<Test>> windows;           ///< per window set, per criterion
  struct Tolerance {
    std::size_t input;  ///< position
    Limits limits;
  };
  std::vector<Tolerance> tolerances;  ///< of inputs that vary and have limits
};

/// Counts and moments of the pieces of a chunk, or of several chunks merged in order.
class Tally {
 public:
  explicit Tally(const TallyPlan& plan);

  /// Adds the first `pieces` lanes of a block whose first piece has index `first`. `coin` may be null: the coin's own
  /// spread is then not tallied; `stages` where the plan has none.
  void add(std::uint64_t first, std::size_t pieces, const Columns& inputs, const signature::Readings* coin,
           const signature::Readings& reading, const Columns& relations, const Columns* stages);
  void merge(const Tally& later);

  std::uint64_t pieces = 0;    ///< all that were drawn and not sorted out
  std::uint64_t unsolved = 0;  ///< of them without a computed reading
  std::vector<std::uint64_t> first_unsolved;
  std::uint64_t outside = 0;  ///< beyond what the finite coin was solved for, read all the same
  std::vector<DistributionTally> coin, reading, relations;
  std::vector<WindowTally> windows;
  std::vector<std::uint64_t> out_of_tolerance;  ///< of plan.tolerances
  SortTally sorting;                            ///< of the pieces that were started
  JointTally joint;
  StageTally stages;

 private:
  std::vector<Failure> add_windows(std::size_t pieces, const signature::Readings& reading,
                                   const Columns& relation_values);
  const TallyPlan* plan_;
};

}  // namespace mintspread::study
