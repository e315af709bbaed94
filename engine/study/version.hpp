#pragma once

namespace mintspread::study {

inline constexpr const char* engine_version = "0.1.0";
/// Changes whenever the same specification and seed give other numbers.
inline constexpr const char* model_version = "finite 3";

}  // namespace mintspread::study
