#pragma once

#include <string>

namespace mintspread::reports_tests {

/// Compares with tests/reports/golden/<name> and fails with the first line that differs. A golden file says "changed",
/// never "right": look at the change, then write the files again with MINTSPREAD_WRITE_GOLDEN=1.
void check_golden(const std::string& name, const std::string& text);

}  // namespace mintspread::reports_tests
