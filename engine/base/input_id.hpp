#pragma once

#include <cstddef>
#include <cstdint>

namespace mintspread {

/// Position of an input among the inputs of a production model, and of its column among the drawn values.
enum class InputId : std::uint32_t {};

constexpr std::size_t index(InputId id) { return static_cast<std::size_t>(id); }

}  // namespace mintspread
