#include "engine/base/store.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdlib>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/base/sha256.hpp"
#include "engine/base/whole_file.hpp"

namespace mintspread {
namespace {

namespace fs = std::filesystem;

std::string envelope(std::string_view kind, std::string_view key, std::string_view blob) {
  std::string line = "mintspread store 1 ";
  line.append(kind).append(" ").append(key).append(" ").append(std::to_string(blob.size()));
  return line.append(" ").append(sha256(blob)).append("\n");
}

void expect_address(std::string_view kind, std::string_view key) {
  expect(!kind.empty() && kind.find_first_not_of("abcdefghijklmnopqrstuvwxyz-") == std::string_view::npos,
         "a kind of blob is named in small letters");
  expect(key.size() == 64 && key.find_first_not_of("0123456789abcdef") == std::string_view::npos,
         "a key of the store is a SHA-256 in hexadecimal digits");
}

/// Whether `folder` is a directory of ours that nobody else can put files into; not a link.
bool trusted(const fs::path& folder) {
  struct stat status {};
  return ::lstat(folder.c_str(), &status) == 0 && S_ISDIR(status.st_mode) && status.st_uid == ::geteuid() &&
         (status.st_mode & (S_IWGRP | S_IWOTH)) == 0;
}

void make_private_directories(const fs::path& folder) {
  if (folder.has_parent_path() && !fs::exists(folder.parent_path())) make_private_directories(folder.parent_path());
  if (::mkdir(folder.c_str(), 0700) != 0 && errno != EEXIST)
    throw StoreUnusable("cannot make the folder '" + folder.string() + "': " + std::generic_category().message(errno));
}

}  // namespace

Store::Store(fs::path directory, std::uintmax_t limit) : directory_(std::move(directory)), limit_(limit) {}

std::optional<fs::path> Store::usual_directory() {
  const auto path_in = [](const char* variable) -> fs::path {
    const char* value = std::getenv(variable);
    return value ? value : "";
  };
  if (const fs::path own = path_in("MINTSPREAD_CACHE"); !own.empty()) return fs::absolute(own);
  // The base directory specification has relative paths ignored.
  if (const fs::path cache = path_in("XDG_CACHE_HOME"); cache.is_absolute()) return cache / "mintspread";
  if (const fs::path home = path_in("HOME"); home.is_absolute()) return home / ".cache" / "mintspread";
  return std::nullopt;
}

fs::path Store::folder(std::string_view kind) const { return directory_ / kind; }

std::optional<std::string> Store::read(std::string_view kind, std::string_view key) const {
  expect_address(kind, key);
  if (!trusted(folder(kind))) return std::nullopt;
  const fs::path path = folder(kind) / key;
  std::ifstream file(path, std::ios::binary);
  std::string line;
  if (!file || !std::getline(file, line)) return std::nullopt;
  std::string blob{std::istreambuf_iterator<char>(file), {}};
  if (file.bad() || line + "\n" != envelope(kind, key, blob)) return std::nullopt;
  ::utimensat(AT_FDCWD, path.c_str(), nullptr, 0);  // last used now: the oldest go first
  return blob;
}

void Store::write(std::string_view kind, std::string_view key, std::string_view blob) {
  expect_address(kind, key);
  try {
    make_private_directories(folder(kind));
    if (!trusted(folder(kind)))
      throw StoreUnusable("'" + folder(kind).string() + "' belongs to, or can be written by, somebody else");
    const fs::path path = folder(kind) / key;
    write_whole(path, envelope(kind, key, blob).append(blob), Privacy::confidential);
    make_room(folder(kind), path);
  } catch (const CannotWrite& error) {
    throw StoreUnusable(error.what());
  } catch (const fs::filesystem_error& error) {
    throw StoreUnusable(error.what());
  }
}

void Store::make_room(const fs::path& folder, const fs::path& newest) const {
  struct Blob {
    fs::file_time_type used;
    std::uintmax_t bytes;
    fs::path path;
  };
  std::vector<Blob> blobs;
  std::uintmax_t total = 0;
  std::error_code gone;  // another process may be making room as well
  const auto yesterday = fs::file_time_type::clock::now() - std::chrono::hours(24);
  for (fs::directory_iterator entry(folder, gone), end; !gone && entry != end; entry.increment(gone)) {
    std::error_code error;
    const Blob blob{entry->last_write_time(error), entry->file_size(error), entry->path()};
    if (error) continue;
    if (blob.path.filename().string().starts_with('.')) {
      // A file being written; left behind only by a process that was killed.
      if (blob.used < yesterday) fs::remove(blob.path, error);
      continue;
    }
    total += blob.bytes;
    if (blob.path != newest) blobs.push_back(blob);
  }
  if (total <= limit_) return;
  std::sort(blobs.begin(), blobs.end(), [](const Blob& a, const Blob& b) { return a.used < b.used; });
  for (const Blob& blob : blobs) {
    if (total <= limit_) break;
    fs::remove(blob.path, gone);
    total -= blob.bytes;
  }
}

}  // namespace mintspread
