#include "io/folder_lock.hpp"
#include "mesh/error.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <optional>
#include <string>

using namespace tidemark;
namespace fs = std::filesystem;

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
    const FolderLock lock(folder.path(), "fill roof.toml");
    const char sign = 1;
    const auto written = ::write(ready[1], &sign, 1);
    (void)written;
    ::pause();
    ::_exit(0);
  }
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
  ::close(ready[1]);
}

TEST_CASE("folder lock: what a killed run of another user left does not block") {
  const TemporaryFolder folder;
  write_file(lock_file(folder.path()), "fill roof.toml, process 7\n");
  fs::permissions(lock_file(folder.path()), fs::perms::owner_read);
  CHECK_NOTHROW(FolderLock(folder.path(), ""));
  CHECK_FALSE(fs::exists(lock_file(folder.path())));
}

TEST_CASE("folder lock: a file in the folder's place is an error that names it") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "roof.out";
  write_file(file, "");
  CHECK_THROWS_WITH_AS(FolderLock(file, ""), doctest::Contains("it is a file"), FileError);
}
