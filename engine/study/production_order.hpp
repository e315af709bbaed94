#pragma once

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "engine/base/problem.hpp"
#include "engine/study/model.hpp"

namespace mintspread::study {

/// Which unit of every group a piece belongs to, in the order of production.
///
/// Groups that are part of one another are a family: pieces have one place in it, units of a group follow each other
/// along these places, so that groups of a family nest, or cross as their sizes say. A group that mixes n units of
/// another has its own order: there, n units of the mixed group run side by side, and each piece is of one of them at
/// random, in the order inside that unit. Pieces are numbered in the order of a family that nobody mixes. Of a group
/// of which n stand `in turn`, the first follows the last: it meets units of other groups again and again.
class ProductionOrder {
 public:
  /// Adds what is impossible to `problems`: groups that form a circle, a family mixed by two groups.
  ProductionOrder(const std::vector<Group>& groups, std::vector<Problem>& problems);

  /// Unit of the group at `level` for each of `out.size()` pieces from `first` on. `plant` tells apart plants with
  /// units in turn of their own.
  void units(std::uint64_t seed, std::uint64_t plant, std::size_t level, std::uint64_t first,
             std::span<std::uint64_t> out) const;
  /// The pieces' places in the order of the group's family.
  void places(std::uint64_t seed, std::size_t level, std::uint64_t first, std::span<std::uint64_t> out) const;

  /// Unit at a place.
  std::uint64_t unit_at(std::uint64_t plant, std::size_t level, std::uint64_t place) const;

  /// Pieces further apart than this share no unit, but for those in turn.
  std::uint64_t reach() const { return reach_; }

 private:
  struct Family {
    std::optional<std::size_t> mixer;  ///< position of the group that mixes one of this family
    std::size_t mixed = 0;             ///< that one
  };
  std::vector<Group> groups_;
  std::vector<std::size_t> family_of_;  ///< per group
  std::vector<Family> families_;
  std::uint64_t reach_ = 0;
};

/// Position of a group by its name.
std::optional<std::size_t> group_position(const std::vector<Group>& groups, const std::string& name);

/// Names of groups that lead back to themselves by `from` and `mixes`, the first one at both ends; empty when none do.
std::vector<std::string> circle_of(const std::vector<Group>& groups);

}  // namespace mintspread::study
