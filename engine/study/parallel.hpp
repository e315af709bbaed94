#pragma once

#include <cstddef>
#include <functional>

namespace mintspread::study {

/// Calls `task(i)` once for each i in [0, count) on at most `threads` threads (0: as many as the machine has) and
/// returns when all have ended. The order is free: a task writes only to what belongs to its index. The first exception
/// is rethrown.
void for_each_index(std::size_t count, std::size_t threads, const std::function<void(std::size_t)>& task);

/// Threads that for_each_index(…, 0, …) uses.
std::size_t available_threads();

}  // namespace mintspread::study
