#pragma once

#include <string>
#include <vector>

#include "reports/paper.hpp"

namespace mintspread::reports {

/// Reasons why planar values are known to be wrong, numbered in the order they are met; names carry the numbers: "core
/// [1]".
class Marks {
 public:
  std::string on(const std::string& name, const std::vector<std::string>& reasons);
  bool empty() const { return reasons_.empty(); }
  void explain(Paper& paper) const;

 private:
  std::vector<std::string> reasons_;
};

}  // namespace mintspread::reports
