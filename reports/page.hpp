#pragma once

#include <span>
#include <string>

#include "engine/study/result.hpp"
#include "reports/json.hpp"

namespace mintspread::reports {

/// Who reads the page. `customer` leaves out route, layers, materials, process numbers and file paths.
enum class Audience { engineer, customer };

struct PageOptions {
  Audience audience = Audience::engineer;
  Times times = Times::keep;
};

/// One self-contained HTML file: no script is needed, nothing is fetched, names with markup stay text. The bytes depend
/// on the result and the options only.
std::string result_page(const study::Result& result, const PageOptions& options = {});

/// As result_page, for several coins read by one sensor: acceptance side by side, the distributions of each channel
/// over each other. Channels belong together when they have the same name and unit. At least one result.
std::string comparison_page(std::span<const study::Result> results, Times times = Times::keep);

}  // namespace mintspread::reports
