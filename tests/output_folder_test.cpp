#include "io/output_folder.hpp"
#include "mesh/error.hpp"
#include "tests/support/temporary_folder.hpp"

#include <doctest/doctest.h>

#include <stdexcept>

using namespace tidemark;
namespace fs = std::filesystem;

TEST_CASE("output folder: which names are ours") {
  for (const char* name : {"summary.json", "history.csv", "fill.vtu", "front.pvd", "front_0000.vtu",
                           "front_9999.vtu", "front_0012.vtu.part", "fill-time.png", "pressure.png",
                           "last-places.png", "layout.png", "layout.png.part"}) {
    CAPTURE(name);
    CHECK(is_output_name(name));
  }
  for (const char* name :
       {"", "front_.vtu", "front_12.vtu", "front_00001.vtu", "front_00x1.vtu", "front_0001.vtk",
        "my_front_0001.vtu", "roof.vtu", "roof.png", ".part"}) {
    CAPTURE(name);
    CHECK(!is_output_name(name));
  }
}

TEST_CASE("output folder: only what an earlier run left is removed") {
  const TemporaryFolder temporary;
  const fs::path folder = temporary.path() / "deep" / "out";
  prepare_output_folder(folder);
  CHECK(fs::is_empty(folder));
  write_file(folder / "front_0007.vtu", "old");
  write_file(folder / "summary.json", "old");
  write_file(folder / "front_notes.vtu", "mine");
  prepare_output_folder(folder);
  CHECK(!fs::exists(folder / "front_0007.vtu"));
  CHECK(!fs::exists(folder / "summary.json"));
  CHECK(read_file(folder / "front_notes.vtu") == "mine");
}

TEST_CASE("output folder: files of somebody else are not replaced") {
  const TemporaryFolder temporary;
  const fs::path folder = temporary.path();
  CHECK_NOTHROW(refuse_files_of_others(folder, false));
  CHECK_NOTHROW(refuse_files_of_others(folder / "new", false));
  write_file(folder / "notes.txt", "mine");
  write_file(folder / "front_0001.vtu", "left by a run that broke off");
  CHECK_NOTHROW(refuse_files_of_others(folder, false));
  write_file(folder / "report.html", "mine");
  write_file(folder / "layout.png", "mine");
  CHECK_THROWS_WITH_AS(refuse_files_of_others(folder, false),
                       doctest::Contains("found layout.png, report.html, which this run would"),
                       FileError);
  CHECK_NOTHROW(refuse_files_of_others(folder, true));
  write_file(folder / "summary.json", R"({"program": "abacus 3"})");
  CHECK_THROWS_AS(refuse_files_of_others(folder, false), FileError);
  write_file(folder / "summary.json", "no JSON");
  CHECK_THROWS_AS(refuse_files_of_others(folder, false), FileError);
  write_file(folder / "summary.json", R"({"program": "tidemark 0.1.0"})");
  CHECK_NOTHROW(refuse_files_of_others(folder, false));
  CHECK(read_file(folder / "report.html") == "mine");
}

TEST_CASE("output folder: a file in its place is an error that names it") {
  const TemporaryFolder temporary;
  const fs::path file = temporary.path() / "roof.out";
  write_file(file, "");
  CHECK_THROWS_WITH_AS(prepare_output_folder(file), doctest::Contains("roof.out"), FileError);
  CHECK_THROWS_AS(prepare_output_folder(file / "deeper"), FileError);
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
  CHECK(!fs::exists(folder.path() / "summary.json.part"));
  CHECK_THROWS_AS(write_text_file(folder.path() / "missing" / "a.txt", "x"), FileError);
}

TEST_CASE("output folder: a sheet goes beside the files of a filling, and the other way round") {
  CHECK(is_sheet_name("setup-sheet.md"));
  CHECK(is_sheet_name("setup-sheet.html.part"));
  CHECK(!is_sheet_name("summary.json"));
  CHECK(!is_output_name("setup-sheet.md"));
  const TemporaryFolder folder;
  write_file(folder.path() / "summary.json", "of a filling");
  write_file(folder.path() / "setup-sheet.html", "old");
  prepare_output_folder(folder.path(), is_sheet_name);
  CHECK(fs::exists(folder.path() / "summary.json"));
  CHECK(!fs::exists(folder.path() / "setup-sheet.html"));
  write_file(folder.path() / "setup-sheet.html", "new");
  prepare_output_folder(folder.path());
  CHECK(fs::exists(folder.path() / "setup-sheet.html"));
}
