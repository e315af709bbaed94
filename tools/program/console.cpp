#include "tools/program/console.hpp"

#include <fmt/format.h>
#include <sys/ioctl.h>
#include <unistd.h>

#include <cerrno>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <optional>
#include <system_error>
#include <utility>

#include "engine/base/whole_file.hpp"

namespace mintspread::program {
namespace {

bool stated(const char* variable) {
  const char* value = std::getenv(variable);
  return value && *value;
}

/// Whether the terminal understands more than letters and line ends.
bool capable_terminal() {
  const char* terminal = std::getenv("TERM");
  return terminal && *terminal && std::string_view(terminal) != "dumb";
}

std::optional<std::size_t> columns(int terminal) {
  winsize size{};
  if (::ioctl(terminal, TIOCGWINSZ, &size) != 0 || size.ws_col == 0) return std::nullopt;
  return size.ws_col;
}

}  // namespace

void print(std::string_view text) {
  if (std::fwrite(text.data(), 1, text.size(), stdout) != text.size() || std::fflush(stdout) != 0)
    throw CannotWrite("standard output", std::generic_category().message(errno));
}

void note(std::string_view text) { fmt::print(stderr, "{}\n", text); }

Console inspect_console() {
  Console console;
  const bool colours = capable_terminal() && !stated("NO_COLOR");
  if (::isatty(STDOUT_FILENO)) {
    console.width = columns(STDOUT_FILENO).value_or(console.width);
    console.colour = colours;
  }
  if (::isatty(STDERR_FILENO)) {
    console.message_width = columns(STDERR_FILENO).value_or(console.message_width);
    console.message_colour = colours;
    console.redraws = capable_terminal();
  }
  return console;
}

ProgressLine::ProgressLine(std::string job, const Console& console)
    : job_(std::move(job)), shown_(console.redraws), width_(console.message_width) {}

ProgressLine::~ProgressLine() {
  if (drawn_) std::fputs("\r\033[K", stderr);
}

void ProgressLine::tell(double fraction) {
  if (!shown_) return;
  const std::scoped_lock lock(mutex_);
  const auto now = Clock::now();
  if (fraction < told_) start_ = now;  // another attempt
  told_ = fraction;
  if (now - last_ < std::chrono::milliseconds(100)) return;
  last_ = now;
  const double elapsed = std::chrono::duration<double>(now - start_).count();
  std::string figures = fmt::format(": {:.0f} %", std::floor(100.0 * fraction));
  if (elapsed > 2.0 && fraction > 0.02 && fraction < 1.0)
    figures += fmt::format(", {:.0f} s left", elapsed / fraction - elapsed);
  // A line that wraps could not be written over. Precision counts code points, not bytes.
  const std::size_t room = width_ > figures.size() + 1 ? width_ - figures.size() - 1 : 0;
  fmt::print(stderr, "\r{:.{}}{}\033[K", job_, room, figures);
  std::fflush(stderr);
  drawn_ = true;
}

}  // namespace mintspread::program
