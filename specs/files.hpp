#pragma once

#include <cstddef>
#include <functional>
#include <optional>
#include <string>

namespace mintspread::specs {

/// The whole text of a file, or why there is none.
struct FileText {
  std::optional<std::string> text;
  std::string error;  ///< "no such file"
};

/// Where files come from: the disk, or memory in tests.
using FileReader = std::function<FileText(const std::string& path)>;

/// Bytes of a file at most.
inline constexpr std::size_t largest_file = std::size_t{64} << 20;

/// Regular files of the disk up to `largest_file`. Devices, pipes and directories are refused, so that reading always
/// ends.
FileReader disk_files();

}  // namespace mintspread::specs
