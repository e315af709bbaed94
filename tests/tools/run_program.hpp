#pragma once

#include <functional>
#include <string>
#include <vector>

namespace mintspread::test {

/// What a run of the program left: exit status (128 + signal when a signal ended it), standard output and error.
struct Ended {
  int status;
  std::string out, err;
};

/// Runs the built program with `arguments` in an environment without the user's settings. `prepare` runs in the new
/// process before the program: a limit, another user, a variable.
Ended run_program(const std::vector<std::string>& arguments, const std::function<void()>& prepare = {});

/// The same, ended by `signal` after `seconds`.
Ended interrupt_program(const std::vector<std::string>& arguments, int signal, double seconds);

/// The same on a terminal of 90 columns, which shows output and error alike.
Ended run_on_terminal(const std::vector<std::string>& arguments, const std::function<void()>& prepare = {});

}  // namespace mintspread::test
