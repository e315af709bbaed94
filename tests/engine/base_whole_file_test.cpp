#include <fcntl.h>
#include <sched.h>
#include <sys/mount.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <string>

#include "engine/base/whole_file.hpp"
#include "tests/support/temporary_folder.hpp"

using Catch::Contains;
using mintspread::CannotWrite;
using mintspread::expect_writable;
using mintspread::Privacy;
using mintspread::WholeFile;
using mintspread::write_whole;
using mintspread::test::contents;
using mintspread::test::entries;
using mintspread::test::put;
using mintspread::test::TemporaryFolder;

namespace {

unsigned mode_of(const std::filesystem::path& path) {
  struct stat status {};
  REQUIRE(::stat(path.c_str(), &status) == 0);
  return status.st_mode & 07777;
}

/// Runs `work` in a process of its own and returns its exit status; 99 when it threw.
template <typename Work>
int in_child(Work work) {
  const pid_t child = ::fork();
  REQUIRE(child >= 0);
  if (child == 0) {
    int status = 99;
    try {
      status = work();
    } catch (...) {
    }
    ::_exit(status);
  }
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  return WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status);
}

/// 0 when writing `bytes` to `path` is refused with `reason`, 1 when it works, 2 when the reason is another.
int refused(const std::filesystem::path& path, std::string_view bytes, std::string_view reason) {
  try {
    write_whole(path, bytes, Privacy::confidential);
  } catch (const CannotWrite& error) {
    return std::string_view(error.what()).find(reason) != std::string_view::npos ? 0 : 2;
  }
  return 1;
}

}  // namespace

TEST_CASE("a file appears under its name when it is committed and not before") {
  TemporaryFolder folder;
  const auto path = folder / "result.json";
  {
    WholeFile file(path, "new", Privacy::confidential);
    CHECK_FALSE(exists(path));
    file.commit();
  }
  CHECK(contents(path) == "new");
  { WholeFile given_up(path, "newer", Privacy::confidential); }
  CHECK(contents(path) == "new");
  CHECK(entries(folder.path()) == 1);
}

TEST_CASE("a confidential file is readable by its owner only, another by whom the user's mask allows") {
  TemporaryFolder folder;
  const mode_t mask = ::umask(0027);
  write_whole(folder / "confidential", "x", Privacy::confidential);
  write_whole(folder / "ordinary", "x", Privacy::ordinary);
  ::umask(mask);
  CHECK(mode_of(folder / "confidential") == 0600);
  CHECK(mode_of(folder / "ordinary") == 0640);
}

TEST_CASE("a file that is replaced keeps its mode, and a link to it stays a link") {
  TemporaryFolder folder;
  put(folder / "shared", "old");
  std::filesystem::permissions(folder / "shared", std::filesystem::perms(0664));
  std::filesystem::create_symlink("shared", folder / "link");
  write_whole(folder / "link", "new", Privacy::confidential);
  CHECK(is_symlink(folder / "link"));
  CHECK(contents(folder / "shared") == "new");
  CHECK(mode_of(folder / "shared") == 0664);
}

TEST_CASE("what cannot be written is refused with the reason, before and while writing") {
  TemporaryFolder folder;
  create_directory(folder / "sub");
  put(folder / "file", "x");
  std::filesystem::create_symlink("nothing", folder / "dangling");
  const auto check = [](const std::filesystem::path& path, const char* reason) {
    CHECK_THROWS_WITH(write_whole(path, "x", Privacy::ordinary), Contains(reason));
    CHECK_THROWS_WITH(expect_writable(path), Contains(reason));
  };
  check(folder / "sub", "it is a directory");
  check(folder / "missing/result", "does not exist");
  check(folder / "missing/", "does not exist");
  check(folder / "file/result", "Not a directory");
  check(folder / "dangling", "a link to a file that does not exist");
  check("", "the name is empty");
  CHECK(entries(folder.path()) == 3);
}

TEST_CASE("a read-only file and a read-only directory stay as they are") {
  TemporaryFolder folder;
  std::filesystem::permissions(folder.path(), std::filesystem::perms(0777));
  put(folder / "file", "old");
  std::filesystem::permissions(folder / "file", std::filesystem::perms(0444));
  create_directory(folder / "closed");
  std::filesystem::permissions(folder / "closed", std::filesystem::perms(0555));
  const auto as_nobody = [](auto work) {
    return in_child([work] {
      if (::geteuid() == 0 && ::setuid(65534) != 0) return 98;
      return work();
    });
  };
  CHECK(as_nobody([&] { return refused(folder / "file", "new", "Permission denied"); }) == 0);
  CHECK(as_nobody([&] { return refused(folder / "closed/file", "new", "Permission denied"); }) == 0);
  CHECK(contents(folder / "file") == "old");
}

TEST_CASE("a device is written to, and a full one is an error") {
  CHECK_NOTHROW(write_whole("/dev/null", "x", Privacy::confidential));
  CHECK_THROWS_WITH(write_whole("/dev/full", "x", Privacy::confidential), Contains("No space left on device"));
}

TEST_CASE("the file size limit leaves the old file and nothing else behind") {
  TemporaryFolder folder;
  put(folder / "file", "old");
  CHECK(in_child([&] {
          std::signal(SIGXFSZ, SIG_IGN);
          const rlimit limit{4096, 4096};
          if (::setrlimit(RLIMIT_FSIZE, &limit) != 0) return 98;
          return refused(folder / "file", std::string(10000, 'x'), "File too large");
        }) == 0);
  CHECK(contents(folder / "file") == "old");
  CHECK(entries(folder.path()) == 1);
}

TEST_CASE("a full disk leaves the old file and nothing else behind") {
  TemporaryFolder folder;
  constexpr int no_mount = 97;
  const int status = in_child([&] {
    if (::unshare(CLONE_NEWNS) != 0 || ::mount(nullptr, "/", nullptr, MS_REC | MS_PRIVATE, nullptr) != 0 ||
        ::mount("tmpfs", folder.path().c_str(), "tmpfs", 0, "size=64k") != 0)
      return no_mount;
    write_whole(folder / "file", "old", Privacy::confidential);
    if (const int wrong = refused(folder / "file", std::string(100000, 'x'), "No space left on device")) return wrong;
    return contents(folder / "file") == "old" && entries(folder.path()) == 1 ? 0 : 3;
  });
  if (status == no_mount) {
    WARN("no small disk can be mounted here: only /dev/full and the file size limit were tried");
  } else {
    CHECK(status == 0);
  }
}
