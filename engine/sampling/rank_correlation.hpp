#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <variant>
#include <vector>

namespace mintspread::sampling {

/// Rank (Spearman) correlation of the quantities at two positions.
struct RankPair {
  std::size_t first, second;
  double rank;  ///< in (-1, 1)
};

/// Pairs that contradict each other: no quantities can be correlated like this.
struct IndefiniteCorrelation {
  double smallest_eigenvalue;  ///< of the normal-score correlation matrix; 0 or below, how far it is from possible
  std::vector<std::size_t> members;  ///< a smallest set of positions whose correlations contradict each other
  std::vector<RankPair> stated;      ///< the pairs among `members`, as stated
  std::vector<RankPair> possible;    ///< the nearest possible ranks for them, all pulled towards zero by one factor

  /// What is wrong, with `names` by position, and what would be possible.
  std::string describe(const std::vector<std::string>& names) const;
  std::string remedy(const std::vector<std::string>& names) const;
};

/// Joins quantities by a Gaussian copula: independent normal scores become correlated ones, lane by lane, and each
/// quantity keeps its own distribution. A rank correlation rho is a normal-score correlation 2 sin(pi rho / 6) (K.
/// Pearson, 1907, from memory). Pairs not stated are independent. Positions keep their own draw as far as their order
/// allows: position 0 is unchanged, and so is every position not correlated with an earlier one.
class RankCorrelation {
 public:
  /// Ranks in (-1, 1), positions below `size`, no pair twice, no quantity with itself (contract).
  static std::variant<RankCorrelation, IndefiniteCorrelation> make(std::size_t size,
                                                                   const std::vector<RankPair>& pairs);

  std::size_t size() const { return size_; }
  /// Replaces `size` spans of independent standard normal scores, of one length, by correlated ones.
  void apply(std::span<const std::span<double>> scores) const;

 private:
  std::size_t size_ = 0;
  std::vector<double> factor_;  ///< lower Cholesky factor, row by row
};

}  // namespace mintspread::sampling
