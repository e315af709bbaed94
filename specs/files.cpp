#include "specs/files.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstring>

namespace mintspread::specs {

namespace {

struct Descriptor {
  int number;
  ~Descriptor() {
    if (number >= 0) ::close(number);
  }
};

FileText failed(int error) { return {std::nullopt, error == ENOENT ? "no such file" : std::strerror(error)}; }

FileText read_disk(const std::string& path) {
  // Not blocking: opening a pipe that nobody writes to would never return.
  const Descriptor file{::open(path.c_str(), O_RDONLY | O_CLOEXEC | O_NONBLOCK)};
  if (file.number < 0) return failed(errno);
  struct stat about {};
  if (::fstat(file.number, &about) != 0) return failed(errno);
  if (S_ISDIR(about.st_mode)) return {std::nullopt, "it is a directory"};
  if (!S_ISREG(about.st_mode)) return {std::nullopt, "it is no ordinary file"};
  std::string text;
  std::array<char, 1 << 16> buffer;
  while (true) {
    const ssize_t got = ::read(file.number, buffer.data(), buffer.size());
    if (got < 0 && errno == EINTR) continue;
    if (got < 0) return failed(errno);
    if (got == 0) return {std::move(text), ""};
    text.append(buffer.data(), static_cast<std::size_t>(got));
    if (text.size() > largest_file) return {std::nullopt, "it is larger than 64 MiB"};
  }
}

}  // namespace

FileReader disk_files() { return read_disk; }

}  // namespace mintspread::specs
