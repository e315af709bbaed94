#include "tools/program/interrupt.hpp"

#include <pthread.h>
#include <unistd.h>

#include <csignal>

namespace mintspread::program {
namespace {

// Ends the watcher; sent to its thread alone.
constexpr int end_signal = SIGUSR2;

sigset_t watched_signals() {
  sigset_t signals;
  sigemptyset(&signals);
  for (const int signal : {SIGINT, SIGTERM, end_signal}) sigaddset(&signals, signal);
  return signals;
}

}  // namespace

Interrupt::Interrupt() {
  const sigset_t signals = watched_signals();
  pthread_sigmask(SIG_BLOCK, &signals, nullptr);
  watcher_ = std::thread([this, signals] {
    for (;;) {
      int signal = 0;
      if (sigwait(&signals, &signal) != 0 || signal == end_signal) return;
      if (exit_status_ != 0) ::_exit(128 + signal);
      exit_status_ = 128 + signal;
      stop_.request_stop();
    }
  });
}

Interrupt::~Interrupt() {
  pthread_kill(watcher_.native_handle(), end_signal);
  watcher_.join();
  const sigset_t signals = watched_signals();
  pthread_sigmask(SIG_UNBLOCK, &signals, nullptr);
}

}  // namespace mintspread::program
