#include "io/folder_lock.hpp"
#include "mesh/error.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <sys/wait.h>
#include <unistd.h>

#include <csignal>
#include <optional>
#include <stdexcept>
#include <string>

using namespace tidemark;
namespace fs = std::filesystem;

TEST_CASE("folder lock: the second run is told which the first is, and goes on when that is done") {
  const TemporaryFolder temporary;
  const fs::path folder = temporary.path() / "roof.out";
  std::optional<FolderLock> first;
  first.emplace(folder, "fill", "fill roof.toml");
  const std::string process = "process " + std::to_string(::getpid());
  CHECK_THROWS_WITH_AS(FolderLock(folder, "fill", "fill hood.toml"),
                       doctest::Contains("roof.out: another run of tidemark writes there: fill "
                                         "roof.toml, "),
                       FileError);
  CHECK_THROWS_WITH_AS(FolderLock(folder, "fill", ""), doctest::Contains(process.c_str()),
                       FileError);
  CHECK_NOTHROW(FolderLock(folder, "sheet", "sheet roof.toml")); // leaves its files alone
  first.reset();
  CHECK(fs::is_empty(folder));
  CHECK_NOTHROW(FolderLock(folder, "fill", "fill hood.toml"));
}

TEST_CASE("folder lock: none is left by a run that is killed") {
  const TemporaryFolder folder;
  int ready[2];
  REQUIRE(::pipe(ready) == 0);
  const pid_t child = ::fork();
  if (child == 0) {
    const FolderLock lock(folder.path(), "fill", "fill roof.toml");
    const char sign = 1;
    const auto written = ::write(ready[1], &sign, 1);
    (void)written;
    ::pause();
    ::_exit(0);
  }
  char sign = 0;
  REQUIRE(::read(ready[0], &sign, 1) == 1);
  CHECK_THROWS_AS(FolderLock(folder.path(), "fill", ""), FileError);
  ::kill(child, SIGKILL);
  int status = 0;
  ::waitpid(child, &status, 0);
  CHECK(fs::exists(lock_file(folder.path(), "fill"))); // a file, but no lock
  CHECK_NOTHROW(FolderLock(folder.path(), "fill", ""));
  CHECK_FALSE(fs::exists(lock_file(folder.path(), "fill")));
  ::close(ready[0]);
  ::close(ready[1]);
}

TEST_CASE("folder lock: the sign of a run that broke off stays") {
  const TemporaryFolder folder;
  try {
    const FolderLock lock(folder.path(), "fill", "fill roof.toml");
    throw std::runtime_error("no answer");
  } catch (const std::runtime_error&) {
    CHECK(fs::exists(lock_file(folder.path(), "fill")));
  }
}

TEST_CASE("folder lock: a file in the folder's place is an error that names it") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "roof.out";
  write_file(file, "");
  CHECK_THROWS_WITH_AS(FolderLock(file, "fill", ""), doctest::Contains("it is a file"), FileError);
}
