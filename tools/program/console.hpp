#pragma once

#include <chrono>
#include <cstddef>
#include <mutex>
#include <string>
#include <string_view>

namespace mintspread::program {

/// Writes to standard output at once. Throws CannotWrite, for instance when its disk is full.
void print(std::string_view text);

/// Writes a line to standard error.
void note(std::string_view text);

struct Console {
  std::size_t width = 100;         ///< columns of standard output, 100 where it is no terminal
  bool colour = false;             ///< standard output is a terminal that shows colours and NO_COLOR is not set
  bool message_colour = false;     ///< the same of standard error
  std::size_t message_width = 80;  ///< columns of standard error
  bool redraws = false;            ///< standard error is a terminal on which a line can be written over
};

Console inspect_console();

/// A line on standard error that tells how far a job is, written over as it goes on; erased at the end. Silent where
/// a line cannot be written over. May be told from any thread.
class ProgressLine {
 public:
  ProgressLine(std::string job, const Console& console);
  ~ProgressLine();
  ProgressLine(const ProgressLine&) = delete;
  ProgressLine& operator=(const ProgressLine&) = delete;

  /// A smaller fraction than the last begins anew.
  void tell(double fraction);

 private:
  using Clock = std::chrono::steady_clock;

  const std::string job_;
  const bool shown_;
  const std::size_t width_;
  Clock::time_point start_ = Clock::now();
  double told_ = 0.0;
  std::mutex mutex_;
  Clock::time_point last_{};
  bool drawn_ = false;
};

}  // namespace mintspread::program
