#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <catch2/catch.hpp>
#include <chrono>
#include <cstdlib>
#include <optional>
#include <string>
#include <vector>

#include "engine/base/contract.hpp"
#include "engine/base/sha256.hpp"
#include "engine/base/store.hpp"
#include "tests/support/temporary_folder.hpp"

using mintspread::sha256;
using mintspread::Store;
using mintspread::StoreUnusable;
using mintspread::test::contents;
using mintspread::test::entries;
using mintspread::test::put;
using mintspread::test::TemporaryFolder;

namespace fs = std::filesystem;

namespace {

const std::string key = sha256("a specification");

unsigned mode_of(const fs::path& path) {
  struct stat status {};
  REQUIRE(::stat(path.c_str(), &status) == 0);
  return status.st_mode & 07777;
}

/// Sets an environment variable for the life of the object; nullptr unsets it.
class Variable {
 public:
  Variable(const char* name, const char* value) : name_(name) {
    if (const char* before = std::getenv(name)) before_ = before;
    value ? ::setenv(name, value, 1) : ::unsetenv(name);
  }
  ~Variable() { before_ ? ::setenv(name_, before_->c_str(), 1) : ::unsetenv(name_); }
  Variable(const Variable&) = delete;
  Variable& operator=(const Variable&) = delete;

 private:
  const char* name_;
  std::optional<std::string> before_;
};

}  // namespace

TEST_CASE("a blob comes back as it was written, whatever bytes it holds") {
  TemporaryFolder folder;
  Store store(folder / "cache");
  const std::string blob("line\n\0\xff\r\n", 9);
  CHECK_FALSE(store.read("result", key));
  store.write("result", key, blob);
  CHECK(store.read("result", key) == blob);
  CHECK_FALSE(store.read("surface", key));
  CHECK_FALSE(store.read("result", sha256("another")));
  store.write("result", key, "");
  CHECK(store.read("result", key) == "");
}

TEST_CASE("a damaged blob is as good as not there and is replaced") {
  TemporaryFolder folder;
  Store store(folder / "cache");
  const fs::path path = folder / "cache/result" / key;
  store.write("result", key, "thirteen bytes");
  const std::string sound = contents(path);
  // Every single bit of the file, its line and its blob.
  for (std::size_t bit = 0; bit < 8 * sound.size(); ++bit) {
    std::string damaged = sound;
    damaged[bit / 8] = static_cast<char>(damaged[bit / 8] ^ (1 << bit % 8));
    put(path, damaged);
    if (store.read("result", key)) FAIL("bit " << bit << " went unnoticed");
  }
  for (std::size_t length = 0; length < sound.size(); ++length) {
    put(path, sound.substr(0, length));
    if (store.read("result", key)) FAIL("cut to " << length << " bytes went unnoticed");
  }
  put(path, sound + "\n");
  CHECK_FALSE(store.read("result", key));
  put(folder / "cache/result" / sha256("another"), sound);
  CHECK_FALSE(store.read("result", sha256("another")));
  store.write("result", key, "thirteen bytes");
  CHECK(store.read("result", key) == "thirteen bytes");
}

TEST_CASE("what is stored is open to its owner only") {
  TemporaryFolder folder;
  Store store(folder / "deep/cache");
  store.write("result", key, "x");
  CHECK(mode_of(folder / "deep") == 0700);
  CHECK(mode_of(folder / "deep/cache/result") == 0700);
  CHECK(mode_of(folder / "deep/cache/result" / key) == 0600);
}

TEST_CASE("a folder that others can write to is neither trusted nor written to") {
  TemporaryFolder folder;
  Store store(folder / "cache");
  store.write("result", key, "x");
  fs::permissions(folder / "cache/result", fs::perms(0777));
  CHECK_FALSE(store.read("result", key));
  CHECK_THROWS_AS(store.write("result", key, "y"), StoreUnusable);
  fs::rename(folder / "cache/result", folder / "elsewhere");
  fs::permissions(folder / "elsewhere", fs::perms(0700));
  fs::create_directory_symlink(folder / "elsewhere", folder / "cache/result");
  CHECK_FALSE(store.read("result", key));
  CHECK_THROWS_AS(store.write("result", key, "y"), StoreUnusable);
}

TEST_CASE("a store that cannot be made says so") {
  TemporaryFolder folder;
  put(folder / "file", "x");
  Store store(folder / "file");
  CHECK_FALSE(store.read("result", key));
  CHECK_THROWS_AS(store.write("result", key, "x"), StoreUnusable);
  CHECK_THROWS_AS(store.write("../result", key, "x"), mintspread::ContractBroken);
  CHECK_THROWS_AS(store.read("result", "short"), mintspread::ContractBroken);
}

TEST_CASE("the blobs longest unused make room for new ones") {
  TemporaryFolder folder;
  Store store(folder / "cache", 5000);
  const auto path = [&](int n) { return folder / "cache/result" / sha256(std::to_string(n)); };
  for (int n = 0; n < 4; ++n) {
    store.write("result", sha256(std::to_string(n)), std::string(1000, 'x'));
    fs::last_write_time(path(n), fs::file_time_type::clock::now() - std::chrono::hours(10 - n));
  }
  put(folder / "cache/result/.left behind", "x");
  fs::last_write_time(folder / "cache/result/.left behind", fs::file_time_type::clock::now() - std::chrono::hours(50));
  CHECK(store.read("result", sha256("0")));  // used now
  store.write("result", sha256("new"), std::string(1000, 'x'));
  CHECK(exists(path(0)));
  CHECK_FALSE(exists(path(1)));
  CHECK(exists(path(2)));
  CHECK(entries(folder / "cache/result") == 4);
  store.write("result", sha256("large"), std::string(9000, 'x'));
  CHECK(entries(folder / "cache/result") == 1);
  CHECK(store.read("result", sha256("large")));
}

TEST_CASE("several processes write and read the same blobs without harm") {
  TemporaryFolder folder;
  const std::string blob(200000, 'b');
  std::vector<pid_t> children;
  for (int child = 0; child < 3; ++child) {
    const pid_t id = ::fork();
    REQUIRE(id >= 0);
    if (id == 0) {
      int damaged = 0;
      try {
        Store store(folder / "cache", 500000);  // room for two of three, so that blobs are removed as well
        for (int turn = 0; turn < 60; ++turn) {
          const std::string address = sha256(std::to_string(turn % 3));
          store.write("result", address, blob);
          if (const auto found = store.read("result", address); found && *found != blob) ++damaged;
        }
      } catch (...) {
        damaged = 100;
      }
      ::_exit(damaged);
    }
    children.push_back(id);
  }
  for (const pid_t id : children) {
    int status = -1;
    CHECK(::waitpid(id, &status, 0) == id);
    CHECK(status == 0);
  }
}

TEST_CASE("the store stands where the user says, else in the user's cache") {
  Variable home("HOME", "/nowhere/somebody");
  Variable cache("XDG_CACHE_HOME", nullptr);
  Variable own("MINTSPREAD_CACHE", nullptr);
  CHECK(Store::usual_directory() == "/nowhere/somebody/.cache/mintspread");
  {
    Variable relative("XDG_CACHE_HOME", "relative");
    CHECK(Store::usual_directory() == "/nowhere/somebody/.cache/mintspread");
  }
  Variable given("XDG_CACHE_HOME", "/var/cache/somebody");
  CHECK(Store::usual_directory() == "/var/cache/somebody/mintspread");
  {
    Variable directory("MINTSPREAD_CACHE", "/data/store");
    CHECK(Store::usual_directory() == "/data/store");
  }
  Variable none("HOME", nullptr);
  Variable empty("XDG_CACHE_HOME", "");
  CHECK_FALSE(Store::usual_directory());
}
