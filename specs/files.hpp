#pragma once

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

/// Regular files of the disk up to 64 MiB. Devices, pipes and directories are refused, so that reading always ends.
FileReader disk_files();

}  // namespace mintspread::specs
