#include "io/output_folder.hpp"
#include "io/written_files.hpp"
#include "mesh/error.hpp"
#include "tests/support/says.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <sys/wait.h>
#include <unistd.h>

#include <stdexcept>
#include <string>
#include <utility>
#include <vector>

using namespace tidemark;
namespace fs = std::filesystem;

TEST_CASE("output folder: which names are ours") {
  for (const char* name :
       {"summary.json", "history.csv", "fill.vtu", "front.pvd", "front_0000.vtu", "front_9999.vtu",
        "fill-time.png", "pressure.png", "last-places.png", "layout.png"}) {
    CAPTURE(name);
    CHECK(is_output_name(name));
  }
  for (const char* name :
       {"", "front_.vtu", "front_12.vtu", "front_00001.vtu", "front_00x1.vtu", "front_0001.vtk",
        "my_front_0001.vtu", "roof.vtu", "roof.png", "layout.png.part"}) {
    CAPTURE(name);
    CHECK(!is_output_name(name));
  }
}

namespace {

/// What a run under these names is refused with; empty if it is not.
std::string refusal(const fs::path& folder, NameTest is_ours = is_output_name) {
  try {
    const OutputFolder held(folder, is_ours, "fill roof.toml");
  } catch (const FileError& error) {
    return error.what();
  }
  return "";
}

/// A run that writes files of these names and contents.
void run_and_write(const fs::path& folder, NameTest is_ours,
                   const std::vector<std::pair<std::string, std::string>>& files) {
  const OutputFolder held(folder, is_ours, "a run");
  held.clear();
  for (const auto& [name, text] : files) {
    write_text_file(folder / name, text);
  }
}

} // namespace

TEST_CASE("output folder: only what an earlier run left is removed") {
  const TemporaryFolder temporary;
  const fs::path folder = temporary.path() / "deep" / "out";
  run_and_write(folder, is_output_name, {});
  CHECK(fs::is_empty(folder));
  run_and_write(folder, is_output_name, {{"front_0007.vtu", "old"}, {"summary.json", "old"}});
  write_file(folder / "front_notes.vtu", "mine");
  write_file(folder / "summary.json.part", "mine");
  write_file(folder / "layout.png.part", "mine");
  run_and_write(folder, is_output_name, {{"history.csv", "new"}});
  CHECK(!fs::exists(folder / "front_0007.vtu"));
  CHECK(!fs::exists(folder / "summary.json"));
  CHECK(read_file(folder / "history.csv") == "new");
  for (const char* name : {"front_notes.vtu", "summary.json.part", "layout.png.part"}) {
    CHECK(read_file(folder / name) == "mine");
  }
}

TEST_CASE("output folder: files of somebody else are not replaced, whatever lies beside") {
  for (const char* name : {"report.html", "front_0001.vtu", "summary.json"}) {
    CAPTURE(name);
    const TemporaryFolder temporary;
    const fs::path& folder = temporary.path();
    CHECK(refusal(folder) == "");
    CHECK(refusal(folder / "new") == "");
    write_file(folder / name, "mine");
    write_file(folder / ".tidemark-lock", "fill roof.toml, process 7\n"); // left by a killed run
    CHECK(refusal(folder) ==
          folder.string() + ": found " + name +
              ", not on the list of files tidemark wrote there (.tidemark-files); this run would "
              "replace it: move or rename "
              "what you want to keep, remove the rest, or choose another folder with -o");
    CHECK(read_file(folder / name) == "mine");
    CHECK(refusal(folder, is_gates_name) == ""); // has no such file
    run_and_write(folder, is_gates_name, {{"gates.csv", "1"}});
    CHECK(says(refusal(folder), name)); // a list of another command's files is none of this
  }
}

TEST_CASE("output folder: a folder under a name of ours is refused at the start") {
  for (const char* name : {"summary.json", "front_0003.vtu"}) {
    CAPTURE(name);
    const TemporaryFolder temporary;
    fs::create_directory(temporary.path() / name);
    const std::string text = refusal(temporary.path());
    CHECK(says(text, (temporary.path() / name).string() + ": found a folder where this run may "
                                                          "write a file"));
    CHECK(says(text, "-o"));
    CHECK(!has_filling(temporary.path()));
    CHECK(fs::is_directory(temporary.path() / name));
  }
  const TemporaryFolder temporary;
  fs::create_directory(temporary.path() / "window.json");
  CHECK(refusal(temporary.path()).empty()); // no name of a filling
  CHECK(says(refusal(temporary.path(), is_window_name), "window.json: found a folder"));
}

TEST_CASE("output folder: what was changed since is somebody's") {
  const TemporaryFolder temporary;
  const fs::path& folder = temporary.path();
  run_and_write(folder, is_gates_name,
                {{"gates.csv", "1"}, {"layout-1.toml", "at = 1"}, {"layout-2.toml", "at = 2"}});
  write_file(folder / "layout-1.toml", "at = 1"); // as it was
  CHECK(refusal(folder, is_gates_name) == "");
  write_file(folder / "layout-2.toml", "at = 3");
  const std::string start = folder.string() + ": found layout-2.toml, changed since tidemark "
                                              "wrote it; this run would replace it: ";
  CHECK(refusal(folder, is_gates_name).starts_with(start));
  write_file(folder / "places.csv", "mine");
  CHECK(says(refusal(folder, is_gates_name),
             "found places.csv, not on the list of files tidemark wrote there (.tidemark-files), "
             "and layout-2.toml, changed "
             "since tidemark wrote it; this run would replace them: "));
  CHECK(read_file(folder / "gates.csv") == "1"); // nothing is gone
  fs::rename(folder / "layout-2.toml", folder / "mine.toml");
  fs::remove(folder / "places.csv");
  run_and_write(folder, is_gates_name, {{"gates.csv", "2"}});
  CHECK(!fs::exists(folder / "layout-1.toml"));
  CHECK(read_file(folder / "mine.toml") == "at = 3");
  // A name that was given up is anybody's again.
  write_file(folder / "layout-1.toml", "at = 1");
  CHECK(says(refusal(folder, is_gates_name), "layout-1.toml, not on the list"));
}

TEST_CASE("output folder: what a killed run left may be replaced, the half of a file goes") {
  const TemporaryFolder temporary;
  const fs::path& folder = temporary.path();
  const pid_t child = ::fork();
  if (child == 0) {
    try {
      const OutputFolder held(folder, is_output_name, "fill roof.toml");
      held.clear();
      write_text_file(folder / "front_0000.vtu", "whole");
      replace_file(folder / "fill.vtu", [](const fs::path& temporary_file) {
        write_file(temporary_file, "hal");
        ::_exit(0); // no destructor runs
      });
    } catch (...) { // or it would go on as a second run of all tests
    }
    ::_exit(1);
  }
  int status = 0;
  REQUIRE(::waitpid(child, &status, 0) == child);
  REQUIRE(WIFEXITED(status));
  REQUIRE(WEXITSTATUS(status) == 0);
  REQUIRE(read_file(folder / "front_0000.vtu") == "whole");
  CHECK(fs::exists(lock_file(folder)));
  CHECK(fs::exists(temporary_name(folder / "fill.vtu")));
  CHECK(!fs::exists(folder / "fill.vtu"));
  write_file(folder / "notes.txt", "mine");
  run_and_write(folder, is_output_name, {});
  std::vector<std::string> left;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    left.push_back(entry.path().filename().string());
  }
  CHECK(left == std::vector<std::string>{"notes.txt"});
}

TEST_CASE("output folder: a filling from before there were lists") {
  const TemporaryFolder temporary;
  const fs::path& folder = temporary.path();
  write_file(folder / "report.html", "old");
  write_file(folder / "gates.csv", "mine");
  write_file(folder / "summary.json", R"({"program": "abacus 3"})");
  CHECK(says(refusal(folder), "found report.html, summary.json, not on the list"));
  write_file(folder / "summary.json", "no JSON");
  CHECK(says(refusal(folder), "found report.html, summary.json, not on the list"));
  write_file(folder / "summary.json", R"({"program": "tidemark 0.1.0"})");
  CHECK(refusal(folder) == "");
  CHECK(says(refusal(folder, is_gates_name), "found gates.csv, not on the list"));
  run_and_write(folder, is_sheet_name, {{"setup-sheet.md", "1"}}); // has a list from now on
  CHECK(refusal(folder) == "");
  run_and_write(folder, is_output_name, {{"summary.json", R"({"program": "tidemark 0.1.0"})"}});
  write_file(folder / "report.html", "mine");
  CHECK(says(refusal(folder), "found report.html, not on the list"));
}

TEST_CASE("output folder: a list that is damaged protects more, not less") {
  const TemporaryFolder temporary;
  const fs::path& folder = temporary.path();
  run_and_write(folder, is_gates_name, {{"gates.csv", "1"}, {"places.csv", "2"}});
  const std::string list = read_file(written_list(folder));
  write_file(written_list(folder), list.substr(0, list.size() - 2));
  CHECK(says(refusal(folder, is_gates_name), "found places.csv, not on the list"));
  write_file(written_list(folder), "\n \n0123456789abcdef\n");
  CHECK(says(refusal(folder, is_gates_name), "found gates.csv, places.csv, not on the list"));
}

TEST_CASE("output folder: one run at a time, of whatever command") {
  const TemporaryFolder folder;
  const OutputFolder held(folder.path(), is_output_name, "fill roof.toml");
  CHECK(says(refusal(folder.path(), is_sheet_name),
             "another run of tidemark writes there: fill roof.toml, process "));
}

TEST_CASE("output folder: a file in its place is an error that names it") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "roof.out";
  write_file(file, "");
  CHECK(says(refusal(file), "roof.out: cannot be used as the output folder: it is a file"));
  CHECK(says(refusal(file / "deeper"), "deeper: cannot be used as the output folder"));
}

TEST_CASE("output folder: a file is replaced as a whole or not at all") {
  const TemporaryFolder folder;
  const fs::path file = folder.path() / "summary.json";
  write_text_file(file, "first");
  const auto breaks_off = [](const fs::path& temporary) {
    write_file(temporary, "hal");
    throw std::runtime_error("no more");
  };
  CHECK_THROWS_AS(replace_file(file, breaks_off), std::runtime_error);
  CHECK(read_file(file) == "first");
  CHECK(!fs::exists(temporary_name(file)));
  CHECK(!fs::exists(written_list(folder.path()))); // none is begun where nobody began one
  CHECK_THROWS_AS(write_text_file(folder.path() / "missing" / "a.txt", "x"), FileError);
}

TEST_CASE("output folder: what lies under the temporary name is replaced, not written to") {
  const TemporaryFolder folder; // no output folder, as that of a first case file
  const fs::path file = folder.path() / "roof.toml";
  write_file(folder.path() / "mine.toml", "mine");
  fs::create_symlink(folder.path() / "mine.toml", temporary_name(file));
  write_text_file(file, "new");
  CHECK(read_file(file) == "new");
  CHECK(!fs::is_symlink(file));
  CHECK(read_file(folder.path() / "mine.toml") == "mine");
}

TEST_CASE("output folder: a file that cannot be written goes by its own name") {
  const TemporaryFolder folder;
  const fs::path file = folder.path() / "summary.json";
  const auto is_full = [](const fs::path& temporary) {
    throw FileError(temporary.string() + ": cannot be written: No space left on device");
  };
  const auto told = [&] {
    try {
      replace_file(file, is_full);
    } catch (const WriteError& error) {
      return std::pair(std::string(error.what()), error.is_of_a_run());
    }
    return std::pair(std::string(), false);
  };
  const std::string expected = file.string() + ": cannot be written: No space left on device";
  CHECK(told() == std::pair(expected, false)); // no run is going on there
  const OutputFolder held(folder.path(), is_output_name, "a run");
  CHECK(told() == std::pair(expected, true));
}

TEST_CASE("output folder: a sheet goes beside the files of a filling, and the other way round") {
  CHECK(is_sheet_name("setup-sheet.md"));
  CHECK(is_sheet_name("setup-sheet.html"));
  CHECK(!is_sheet_name("summary.json"));
  CHECK(!is_output_name("setup-sheet.md"));
  const TemporaryFolder folder;
  run_and_write(folder.path(), is_output_name, {{"summary.json", "of a filling"}});
  run_and_write(folder.path(), is_sheet_name, {{"setup-sheet.html", "old"}});
  run_and_write(folder.path(), is_sheet_name, {});
  CHECK(fs::exists(folder.path() / "summary.json"));
  CHECK(!fs::exists(folder.path() / "setup-sheet.html"));
  run_and_write(folder.path(), is_sheet_name, {{"setup-sheet.html", "new"}});
  run_and_write(folder.path(), is_output_name, {});
  CHECK(!fs::exists(folder.path() / "summary.json"));
  CHECK(fs::exists(folder.path() / "setup-sheet.html"));
}
