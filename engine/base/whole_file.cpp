#include "engine/base/whole_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <optional>
#include <system_error>
#include <utility>

namespace mintspread {
namespace {

namespace fs = std::filesystem;

std::string reason_of(int error) { return std::generic_category().message(error); }

[[noreturn]] void fail(const fs::path& path, int error) { throw CannotWrite(path, reason_of(error)); }

class Descriptor {
 public:
  explicit Descriptor(int number) : number_(number) {}
  Descriptor(const Descriptor&) = delete;
  Descriptor& operator=(const Descriptor&) = delete;
  ~Descriptor() {
    if (number_ >= 0) ::close(number_);
  }
  int get() const { return number_; }
  bool close() { return ::close(std::exchange(number_, -1)) == 0; }

 private:
  int number_;
};

/// Returns 0 or the error.
int write_all(int descriptor, std::string_view bytes) {
  while (!bytes.empty()) {
    const ssize_t written = ::write(descriptor, bytes.data(), bytes.size());
    if (written > 0) {
      bytes.remove_prefix(static_cast<std::size_t>(written));
    } else if (written == 0) {
      return ENOSPC;
    } else if (errno != EINTR) {
      return errno;
    }
  }
  return 0;
}

bool permitted(const fs::path& path, int mode) { return ::faccessat(AT_FDCWD, path.c_str(), mode, AT_EACCESS) == 0; }

struct Place {
  fs::path target;  ///< links resolved
  std::optional<struct stat> existing;
  bool replaceable() const { return !existing || S_ISREG(existing->st_mode); }
  fs::path directory() const { return target.has_parent_path() ? target.parent_path() : fs::path("."); }
};

/// Finds where `path` leads and refuses what can be seen to fail.
Place inspect(const fs::path& path) {
  Place place{path, std::nullopt};
  if (path.empty()) throw CannotWrite(path, "the name is empty");
  std::error_code error;
  if (fs::is_symlink(fs::symlink_status(path, error))) {
    place.target = fs::canonical(path, error);
    if (error) throw CannotWrite(path, "it is a link to a file that does not exist");
  }
  struct stat status {};
  if (::stat(place.target.c_str(), &status) == 0) {
    if (S_ISDIR(status.st_mode)) throw CannotWrite(path, "it is a directory");
    if (!permitted(place.target, W_OK)) fail(path, errno);
    place.existing = status;
  } else if (errno != ENOENT) {
    fail(path, errno);
  } else if (!place.target.has_filename()) {
    throw CannotWrite(path, "the directory does not exist");
  }
  if (place.replaceable()) {
    const fs::path directory = place.directory();
    if (!fs::is_directory(directory, error)) {
      throw CannotWrite(path, fs::exists(directory, error)
                                  ? "'" + directory.string() + "' is not a directory"
                                  : "the directory '" + directory.string() + "' does not exist");
    }
    if (!permitted(directory, W_OK | X_OK))
      throw CannotWrite(path, "no new file can be made in '" + directory.string() + "': " + reason_of(errno));
  }
  return place;
}

mode_t mode_for(const Place& place, Privacy privacy) {
  if (place.existing) return place.existing->st_mode & 07777;
  if (privacy == Privacy::confidential) return 0600;
  const mode_t mask = ::umask(0);
  ::umask(mask);
  return 0666 & ~mask;
}

}  // namespace

WholeFile::WholeFile(fs::path path, std::string_view bytes, Privacy privacy) : path_(std::move(path)) {
  const Place place = inspect(path_);
  target_ = place.target;
  if (!place.replaceable()) {
    device_bytes_ = bytes;
    return;
  }
  std::string name = (place.directory() / ".mintspread-XXXXXX").string();
  Descriptor file(::mkostemp(name.data(), O_CLOEXEC));
  if (file.get() < 0) fail(path_, errno);
  int error = write_all(file.get(), bytes);
  if (error == 0 && place.existing) {
    // Refused to all but root; the file then belongs to whoever runs this, as any new file would.
    [[maybe_unused]] const int given = ::fchown(file.get(), place.existing->st_uid, place.existing->st_gid);
  }
  if (error == 0 && ::fchmod(file.get(), mode_for(place, privacy)) != 0) error = errno;
  if (error == 0 && ::fsync(file.get()) != 0) error = errno;
  if (!file.close() && error == 0) error = errno;
  if (error != 0) {
    ::unlink(name.c_str());
    fail(path_, error);
  }
  temporary_ = name;
}

WholeFile::WholeFile(WholeFile&& other) noexcept
    : path_(std::move(other.path_)),
      target_(std::move(other.target_)),
      temporary_(std::exchange(other.temporary_, {})),
      device_bytes_(std::exchange(other.device_bytes_, {})) {}

WholeFile::~WholeFile() {
  if (!temporary_.empty()) ::unlink(temporary_.c_str());
}

void WholeFile::append(std::string_view bytes) {
  if (temporary_.empty()) {
    device_bytes_ += bytes;
    return;
  }
  Descriptor file(::open(temporary_.c_str(), O_WRONLY | O_APPEND | O_CLOEXEC));
  if (file.get() < 0) fail(path_, errno);
  if (const int error = write_all(file.get(), bytes)) fail(path_, error);
  if (!file.close()) fail(path_, errno);
}

void WholeFile::flush() {
  if (temporary_.empty()) return;
  Descriptor file(::open(temporary_.c_str(), O_WRONLY | O_CLOEXEC));
  if (file.get() < 0 || ::fsync(file.get()) != 0) fail(path_, errno);
}

void WholeFile::commit() {
  if (temporary_.empty()) {
    Descriptor device(::open(target_.c_str(), O_WRONLY | O_NOCTTY | O_CLOEXEC));
    if (device.get() < 0) fail(path_, errno);
    if (const int error = write_all(device.get(), std::exchange(device_bytes_, {}))) fail(path_, error);
    if (!device.close()) fail(path_, errno);
    return;
  }
  if (::rename(temporary_.c_str(), target_.c_str()) != 0) fail(path_, errno);
  temporary_.clear();
  // The name itself is on the disk only when the directory is; a file system without this keeps the file all the same.
  const fs::path directory = target_.has_parent_path() ? target_.parent_path() : fs::path(".");
  Descriptor folder(::open(directory.c_str(), O_RDONLY | O_DIRECTORY | O_CLOEXEC));
  if (folder.get() >= 0) ::fsync(folder.get());
}

void write_whole(const fs::path& path, std::string_view bytes, Privacy privacy) {
  WholeFile(path, bytes, privacy).commit();
}

void expect_writable(const fs::path& path) { inspect(path); }

}  // namespace mintspread
