#pragma once

#include <string_view>

namespace mintspread::reports {

/// The style sheet of the page.
std::string_view page_style();

/// The page's template, for mustache.
std::string_view page_template();

}  // namespace mintspread::reports
