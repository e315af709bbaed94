#pragma once

#include <atomic>
#include <stop_token>
#include <thread>

namespace mintspread::program {

/// Turns SIGINT and SIGTERM into a request to stop, for as long as it lives; a second signal ends the program at once.
/// Made before other threads are: they inherit that the signals are not theirs.
class Interrupt {
 public:
  Interrupt();
  ~Interrupt();
  Interrupt(const Interrupt&) = delete;
  Interrupt& operator=(const Interrupt&) = delete;

  std::stop_token token() const { return stop_.get_token(); }
  /// 130 or 143 after a signal, 0 before.
  int exit_status() const { return exit_status_; }

 private:
  std::stop_source stop_;
  std::atomic<int> exit_status_{0};
  std::thread watcher_;
};

}  // namespace mintspread::program
