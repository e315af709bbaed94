#pragma once

#include <cstdint>
#include <filesystem>
#include <optional>
#include <stdexcept>
#include <string>
#include <string_view>

namespace mintspread {

/// The store cannot be used: the message says why. A run goes on without it.
class StoreUnusable : public std::runtime_error {
 public:
  using std::runtime_error::runtime_error;
};

/// Computed things kept between runs, each under the SHA-256 of everything it depends on.
///
/// A blob of kind `result` stands in `DIRECTORY/result/KEY`: one line
///     mintspread store 1 KIND KEY BYTES SHA-256-OF-THE-BLOB
/// and then the blob. What does not agree with its line in every word is as good as not there and is replaced by the
/// next write. Blobs appear whole or not at all, so any number of processes may share a store. They are confidential:
/// folders are made with mode 0700, blobs with 0600, and a folder that others may write to is not used.
///
/// The blobs of a kind are kept below `limit` bytes: those longest unused go first.
class Store {
 public:
  static constexpr std::uintmax_t usual_limit = 256u << 20;

  /// Nothing is touched until the first write.
  explicit Store(std::filesystem::path directory, std::uintmax_t limit = usual_limit);

  /// MINTSPREAD_CACHE, else XDG_CACHE_HOME/mintspread, else HOME/.cache/mintspread; nothing when none of them is set.
  static std::optional<std::filesystem::path> usual_directory();

  /// `kind`: small letters and hyphens. `key`: 64 hexadecimal digits, see sha256(). Nothing when there is no sound
  /// blob.
  std::optional<std::string> read(std::string_view kind, std::string_view key) const;

  /// Throws StoreUnusable.
  void write(std::string_view kind, std::string_view key, std::string_view blob);

 private:
  std::filesystem::path folder(std::string_view kind) const;
  void make_room(const std::filesystem::path& folder, const std::filesystem::path& newest) const;

  std::filesystem::path directory_;
  std::uintmax_t limit_;
};

}  // namespace mintspread
