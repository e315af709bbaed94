#include "tests/tools/run_program.hpp"

#include <fcntl.h>
#include <pty.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <stdexcept>
#include <thread>

#include "tests/support/temporary_folder.hpp"

namespace mintspread::test {
namespace {

/// Becomes the program; called in the new process.
[[noreturn]] void become_program(const std::vector<std::string>& arguments, const TemporaryFolder& folder,
                                 const std::function<void()>& prepare) {
  std::vector<std::string> words = {MINTSPREAD_PROGRAM};
  words.insert(words.end(), arguments.begin(), arguments.end());
  std::vector<char*> pointers;
  for (std::string& word : words) pointers.push_back(word.data());
  pointers.push_back(nullptr);
  ::setenv("MINTSPREAD_CACHE", (folder / "cache").c_str(), 1);
  ::setenv("TERM", "xterm", 1);
  ::unsetenv("NO_COLOR");
  if (prepare) prepare();
  ::execv(pointers[0], pointers.data());
  ::_exit(127);
}

pid_t start(const std::vector<std::string>& arguments, const TemporaryFolder& folder,
            const std::function<void()>& prepare) {
  const pid_t child = ::fork();
  if (child < 0) throw std::runtime_error("no new process");
  if (child == 0) {
    ::dup2(::open("/dev/null", O_RDONLY), 0);
    ::dup2(::open((folder / "out").c_str(), O_WRONLY | O_CREAT, 0600), 1);
    ::dup2(::open((folder / "err").c_str(), O_WRONLY | O_CREAT, 0600), 2);
    become_program(arguments, folder, prepare);
  }
  return child;
}

int exit_status(pid_t child) {
  int status = 0;
  if (::waitpid(child, &status, 0) != child) throw std::runtime_error("the program is gone");
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

Ended wait_for(pid_t child, const TemporaryFolder& folder) {
  const int status = exit_status(child);
  return {status, contents(folder / "out"), contents(folder / "err")};
}

}  // namespace

Ended run_program(const std::vector<std::string>& arguments, const std::function<void()>& prepare) {
  TemporaryFolder folder;
  return wait_for(start(arguments, folder, prepare), folder);
}

Ended interrupt_program(const std::vector<std::string>& arguments, int signal, double seconds) {
  TemporaryFolder folder;
  const pid_t child = start(arguments, folder, {});
  std::this_thread::sleep_for(std::chrono::duration<double>(seconds));
  ::kill(child, signal);
  return wait_for(child, folder);
}

Ended run_on_terminal(const std::vector<std::string>& arguments, const std::function<void()>& prepare) {
  TemporaryFolder folder;
  int terminal = -1;
  winsize size{};
  size.ws_row = 40;
  size.ws_col = 90;
  const pid_t child = ::forkpty(&terminal, nullptr, nullptr, &size);
  if (child < 0) throw std::runtime_error("no terminal");
  if (child == 0) become_program(arguments, folder, prepare);
  std::string shown;
  char part[4096];
  // The read fails when the program has left the terminal.
  for (ssize_t size_read; (size_read = ::read(terminal, part, sizeof part)) > 0;)
    shown.append(part, static_cast<std::size_t>(size_read));
  ::close(terminal);
  return {exit_status(child), shown, ""};
}

}  // namespace mintspread::test
