#include "reports/marks.hpp"

#include <algorithm>

namespace mintspread::reports {

std::string Marks::on(const std::string& name, const std::vector<std::string>& reasons) {
  std::string text = name;
  for (const auto& reason : reasons) {
    auto found = std::find(reasons_.begin(), reasons_.end(), reason);
    if (found == reasons_.end()) found = reasons_.insert(reasons_.end(), reason);
    text += " [" + std::to_string(found - reasons_.begin() + 1) + "]";
  }
  return text;
}

void Marks::explain(Paper& paper) const {
  for (std::size_t i = 0; i < reasons_.size(); ++i) {
    paper.paragraph("[" + std::to_string(i + 1) + "] " + reasons_[i], Tone::doubtful, 2, 4);
  }
}

}  // namespace mintspread::reports
