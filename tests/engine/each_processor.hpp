#pragma once

#include <functional>

/// Calls `check` once for every processor family this machine can run, with the engine's kernels dispatched to it.
void for_each_processor(const std::function<void()>& check);
