#pragma once

#include <functional>

/// Calls `check` with the name of every processor family this machine can run, with the engine's kernels dispatched to
/// it.
void for_each_processor(const std::function<void(const char*)>& check);
