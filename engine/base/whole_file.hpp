#pragma once

#include <filesystem>
#include <stdexcept>
#include <string>
#include <string_view>

namespace mintspread {

/// A file that could not be written: not the specification's fault. The program ends with exit status 3.
class CannotWrite : public std::runtime_error {
 public:
  CannotWrite(std::filesystem::path path, const std::string& reason)
      : std::runtime_error("cannot write '" + path.string() + "': " + reason), path_(std::move(path)) {}
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

/// Who may read a new file. Results hold acceptance windows, which help a counterfeiter: confidential, mode 0600.
enum class Privacy { confidential, ordinary };

/// A file that appears whole under its name or not at all. The constructor writes `bytes` to a nameless neighbour in
/// the same directory and flushes it to the disk; commit() gives it its name in one step. Until then, and after any
/// failure, a file of that name is what it was. Several files that belong together are all built before the first
/// commit.
///
/// A file that exists keeps its mode and, where the user may give files away, its owner; other hard links to it keep
/// the old content. A link is followed. A device or a pipe cannot be replaced: it is written to when committed. Throws
/// CannotWrite: directory missing, no permission, existing file read-only, full disk, file size limit, a directory of
/// that name, a link to nothing. (The process must ignore SIGXFSZ to see the file size limit as an error.)
class WholeFile {
 public:
  WholeFile(std::filesystem::path path, std::string_view bytes, Privacy privacy);
  WholeFile(WholeFile&& other) noexcept;
  WholeFile& operator=(WholeFile&&) = delete;
  ~WholeFile();

  /// Adds bytes; flush() brings them to the disk before the first commit of files that belong together.
  void append(std::string_view bytes);
  void flush();

  void commit();

 private:
  std::filesystem::path path_;       ///< as the user wrote it
  std::filesystem::path target_;     ///< links resolved
  std::filesystem::path temporary_;  ///< empty for a device and when committed
  std::string device_bytes_;
};

void write_whole(const std::filesystem::path& path, std::string_view bytes, Privacy privacy);

/// Throws CannotWrite if `path` could not be written as things stand, so that a long run is not lost on its last step.
void expect_writable(const std::filesystem::path& path);

}  // namespace mintspread
