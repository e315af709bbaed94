#include "engine/study/parallel.hpp"

#ifdef MINTSPREAD_STD_THREADS
#include <algorithm>
#include <atomic>
#include <exception>
#include <mutex>
#include <thread>
#include <vector>
#else
#include <tbb/global_control.h>
#include <tbb/info.h>
#include <tbb/parallel_for.h>
#include <tbb/task_arena.h>
#endif

namespace mintspread::study {

#ifdef MINTSPREAD_STD_THREADS

// Debian's TBB is not instrumented, so the thread sanitizer sees races inside it: this body stands in for those builds.
std::size_t available_threads() { return std::max(1U, std::thread::hardware_concurrency()); }

void for_each_index(std::size_t count, std::size_t threads, const std::function<void(std::size_t)>& task) {
  if (threads == 0) threads = available_threads();
  std::atomic<std::size_t> next{0};
  std::exception_ptr failure;
  std::mutex failure_mutex;
  {
    std::vector<std::jthread> workers;
    for (std::size_t w = 0; w < std::min(threads, count); ++w) {
      workers.emplace_back([&] {
        for (std::size_t i = next++; i < count; i = next++) {
          try {
            task(i);
          } catch (...) {
            const std::scoped_lock lock(failure_mutex);
            if (!failure) failure = std::current_exception();
            next = count;
          }
        }
      });
    }
  }
  if (failure) std::rethrow_exception(failure);
}

#else

std::size_t available_threads() { return static_cast<std::size_t>(tbb::info::default_concurrency()); }

void for_each_index(std::size_t count, std::size_t threads, const std::function<void(std::size_t)>& task) {
  if (threads == 0) threads = available_threads();
  // More threads than cores are allowed when asked for: TBB alone would warn on the terminal and use fewer.
  const tbb::global_control allowed(tbb::global_control::max_allowed_parallelism, threads);
  tbb::task_arena arena(static_cast<int>(threads));
  arena.execute([&] {
    tbb::parallel_for(
        std::size_t{0}, count, [&](std::size_t i) { task(i); }, tbb::simple_partitioner{});
  });
}

#endif

}  // namespace mintspread::study
