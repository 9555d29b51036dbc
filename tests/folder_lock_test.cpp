#include "io/folder_lock.hpp"
#include "io/guarded_child.hpp"
#include "mesh/error.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <fcntl.h>
#include <sys/file.h>
#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <fstream>
#include <functional>
#include <optional>
#include <string>

using namespace tidemark;
namespace fs = std::filesystem;

namespace {

/// What a run of a user to whom permissions mean something is refused with, empty if it is not:
/// run in a child process, which is no longer root's if this one is.
std::string refusal_of_plain_user(const fs::path& folder) {
  const TemporaryFolder told;
  const fs::path answer = told.path() / "answer";
  std::ofstream stream(answer);
  const pid_t child = ::fork();
  if (child == 0) {
    constexpr uid_t nobody = 65534;
    if (::geteuid() == 0 && ::setuid(nobody) != 0) {
      ::_exit(1);
    }
    try {
      const FolderLock lock(folder, "sheet hood.toml");
    } catch (const std::exception& error) {
      stream << error.what() << std::flush;
    }
    ::_exit(0);
  }
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  REQUIRE(WIFEXITED(status));
  REQUIRE(WEXITSTATUS(status) == 0);
  return read_file(answer);
}

/// A folder for everybody with a lock file of another run, which may only be read.
struct FolderOfTwo {
  TemporaryFolder folder;
  fs::path file = lock_file(folder.path());
  FolderOfTwo() {
    fs::permissions(folder.path(), fs::perms::all);
    write_file(file, "fill roof.toml, process 7\n");
    fs::permissions(file, fs::perms::owner_read | fs::perms::group_read | fs::perms::others_read);
  }
  FolderOfTwo(const FolderOfTwo&) = delete;
  FolderOfTwo& operator=(const FolderOfTwo&) = delete;
  ~FolderOfTwo() {
    std::error_code none; // so that it can be removed
    fs::permissions(folder.path(), fs::perms::all, none);
  }
};

} // namespace

TEST_CASE("folder lock: the second run is told which the first is, and goes on when that is done") {
  const TemporaryFolder temporary;
  const fs::path folder = temporary.path() / "roof.out";
  std::optional<FolderLock> first;
  first.emplace(folder, "fill roof.toml");
  const std::string process = "process " + std::to_string(::getpid());
  CHECK_THROWS_WITH_AS(FolderLock(folder, "sheet hood.toml"),
                       doctest::Contains("roof.out: another run of tidemark writes there: fill "
                                         "roof.toml, "),
                       FileError);
  CHECK_THROWS_WITH_AS(FolderLock(folder, ""), doctest::Contains(process.c_str()), FileError);
  first.reset();
  CHECK(fs::is_empty(folder));
  CHECK_NOTHROW(FolderLock(folder, "sheet hood.toml"));
}

TEST_CASE("folder lock: none is left by a run that is killed") {
  const TemporaryFolder folder;
  int ready[2];
  REQUIRE(::pipe(ready) == 0);
  const pid_t child = ::fork();
  if (child == 0) {
    try {
      const FolderLock lock(folder.path(), "fill roof.toml");
      const char sign = 1;
      const auto written = ::write(ready[1], &sign, 1);
      (void)written;
      ::pause();
    } catch (...) { // or it would go on as a second run of all tests
    }
    ::_exit(1);
  }
  ::close(ready[1]); // so that a child that ends early is not waited for
  char sign = 0;
  REQUIRE(::read(ready[0], &sign, 1) == 1);
  CHECK_THROWS_AS(FolderLock(folder.path(), ""), FileError);
  ::kill(child, SIGKILL);
  int status = 0;
  ::waitpid(child, &status, 0);
  CHECK(fs::exists(lock_file(folder.path()))); // a file, but no lock
  CHECK_NOTHROW(FolderLock(folder.path(), ""));
  CHECK_FALSE(fs::exists(lock_file(folder.path())));
  ::close(ready[0]);
}

TEST_CASE("folder lock: none is left to a picture or mesh that a killed run was busy with") {
  const TemporaryFolder folder;
  const fs::path sign = folder.path() / "sign";
  const pid_t child = ::fork();
  if (child == 0) {
    try {
      const FolderLock lock(folder.path(), "fill roof.toml");
      run_in_child(
          [&] {
            write_file(sign, "at work");
            ::sleep(60);
            return std::string();
          },
          {.cpu_seconds = 60, .address_space = std::size_t{1} << 40U});
    } catch (...) { // or it would go on as a second run of all tests
    }
    ::_exit(1);
  }
  int status = 0;
  while (!fs::exists(sign) && ::waitpid(child, &status, WNOHANG) == 0) {
    ::usleep(1000);
  }
  REQUIRE(fs::exists(sign));
  CHECK_THROWS_AS(FolderLock(folder.path(), ""), FileError);
  ::kill(child, SIGKILL);
  ::waitpid(child, &status, 0);
  CHECK_NOTHROW(FolderLock(folder.path(), ""));
}

TEST_CASE("folder lock: what a killed run of another user left does not block") {
  const FolderOfTwo shared;
  CHECK(refusal_of_plain_user(shared.folder.path()) == "");
  CHECK_FALSE(fs::exists(shared.file));
}

TEST_CASE("folder lock: a run of another user is no killed one") {
  const FolderOfTwo shared;
  const int held = ::open(shared.file.c_str(), O_RDONLY | O_CLOEXEC);
  REQUIRE(::flock(held, LOCK_EX | LOCK_NB) == 0);
  CHECK(refusal_of_plain_user(shared.folder.path()) ==
        shared.folder.path().string() +
            ": another run of tidemark writes there: fill roof.toml, process 7; wait until it is "
            "done, or choose another folder with -o");
  CHECK(fs::exists(shared.file));
  ::close(held);
}

TEST_CASE("folder lock: what cannot be removed is an error, not waited for") {
  const FolderOfTwo shared;
  fs::permissions(shared.folder.path(), fs::perms::owner_read | fs::perms::owner_exec |
                                            fs::perms::others_read | fs::perms::others_exec);
  CHECK(refusal_of_plain_user(shared.folder.path()) ==
        shared.folder.path().string() + ": cannot be used as the output folder: Permission denied");
  CHECK(fs::exists(shared.file));
}

TEST_CASE("folder lock: a folder that may not be written to says so") {
  const TemporaryFolder temporary;
  fs::permissions(temporary.path(), fs::perms::owner_read | fs::perms::owner_exec |
                                        fs::perms::others_read | fs::perms::others_exec);
  CHECK(refusal_of_plain_user(temporary.path()) ==
        temporary.path().string() + ": cannot be used as the output folder: Permission denied");
  fs::permissions(temporary.path(), fs::perms::all); // so that it can be removed
}

TEST_CASE("folder lock: a file in the folder's place is an error that names it") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "roof.out";
  write_file(file, "");
  CHECK_THROWS_WITH_AS(FolderLock(file, ""), doctest::Contains("it is a file"), FileError);
}
