// Every case file in the folders of cases/ is run by the program itself and its summary compared
// with expected numbers, each with its source: those of expected.json, or of NAME.expected.json
// beside each NAME.toml where a folder holds several cases over one mesh.
#include "tests/support/json_text.hpp"

#include <doctest/doctest.h>
#include <nlohmann/json.hpp>

#include <sys/wait.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <set>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

namespace fs = std::filesystem;
using Json = nlohmann::json;

/// A folder of its own, gone when the test ends.
struct TemporaryFolder {
  fs::path path = fs::temp_directory_path() / ("tidemark cases " + std::to_string(::getpid()));
  TemporaryFolder() { fs::create_directories(path); }
  TemporaryFolder(const TemporaryFolder&) = delete;
  TemporaryFolder& operator=(const TemporaryFolder&) = delete;
  ~TemporaryFolder() {
    std::error_code ignored;
    fs::remove_all(path, ignored);
  }
};

std::vector<fs::path> case_folders() {
  std::vector<fs::path> folders;
  for (const auto& entry : fs::directory_iterator(fs::path(TIDEMARK_SOURCE_DIR) / "cases")) {
    const bool has_cases = entry.path().filename() != "library"; // library_test reads that
    if (entry.is_directory() && has_cases && entry.path().extension() != ".out" &&
        entry.path().extension() != ".compare") {
      folders.push_back(entry.path());
    }
  }
  std::sort(folders.begin(), folders.end());
  return folders;
}

std::vector<fs::path> files_with(const fs::path& folder, const std::string& extension) {
  std::vector<fs::path> files;
  for (const auto& entry : fs::directory_iterator(folder)) {
    if (entry.is_regular_file() && entry.path().extension() == extension) {
      files.push_back(entry.path());
    }
  }
  std::sort(files.begin(), files.end());
  return files;
}

fs::path expected_file(const fs::path& case_file) {
  const bool is_only_one = files_with(case_file.parent_path(), ".toml").size() == 1;
  return is_only_one ? case_file.parent_path() / "expected.json"
                     : fs::path(case_file).replace_extension(".expected.json");
}

/// Throws if the file cannot be opened or is not JSON.
Json read_json(const fs::path& file) {
  std::ifstream in(file);
  if (!in) {
    throw std::runtime_error("cannot open " + file.string());
  }
  return tidemark::json_of(std::string{std::istreambuf_iterator<char>(in), {}});
}

/// Runs `tidemark fill` on a case; the folder gets its files and all it said. Returns the exit
/// code, -1 if it ended by a signal.
int run_fill(const fs::path& case_file, const fs::path& folder) {
  const std::string command = "\"" TIDEMARK_PROGRAM "\" fill --no-pictures \"" +
                              case_file.string() + "\" -o \"" + folder.string() +
                              "\" --quiet > \"" + folder.string() + ".said.txt\" 2>&1";
  const int status = std::system(command.c_str());
  return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
}

std::string what_it_said(const fs::path& folder) {
  std::ifstream in(folder.string() + ".said.txt");
  return {std::istreambuf_iterator<char>(in), {}};
}

/// Compares one value of the summary: text exactly, numbers to the relative tolerance given.
void check_value(const Json& summary, const Json& expected) {
  const Json::json_pointer key(expected.at("key").get<std::string>());
  const Json& value = expected.at("value");
  const Json found = summary.value(key, Json());
  CAPTURE(key.to_string());
  if (!value.is_number() || !found.is_number()) {
    CHECK_MESSAGE(found == value, "found " << found.dump() << ", expected " << value.dump());
    return;
  }
  const double limit = expected.at("tolerance").get<double>() * std::abs(value.get<double>());
  CHECK_MESSAGE(std::abs(found.get<double>() - value.get<double>()) <= limit,
                "found " << found.get<double>() << ", expected " << value.get<double>() << " +- "
                         << limit);
}

/// Runs a case and compares its exit code and summary; throws where a file is missing.
void check_case(const fs::path& case_file, const fs::path& out) {
  const Json expected = read_json(expected_file(case_file));
  const int exit_code = run_fill(case_file, out);
  INFO(what_it_said(out));
  CHECK(exit_code == expected.at("exit_code").get<int>());

  const Json summary = read_json(out / "summary.json");
  CHECK(std::abs(summary.at("mass_balance_error").get<double>()) < 1e-8);
  for (const Json& value : expected.at("values")) {
    check_value(summary, value);
  }
}

} // namespace

TEST_CASE("cases: every case runs and gives its expected numbers") {
  const TemporaryFolder temporary;
  for (const fs::path& folder : case_folders()) {
    for (const fs::path& case_file : files_with(folder, ".toml")) {
      const std::string name = folder.filename().string() + " " + case_file.stem().string();
      CAPTURE(name);
      try { // a case that breaks must not keep the others from being run
        check_case(case_file, temporary.path / name);
      } catch (const std::exception& error) {
        FAIL_CHECK(std::string(error.what()));
      }
    }
  }
}

TEST_CASE("cases: every folder has what a reader needs") {
  const auto folders = case_folders();
  std::set<std::string> names;
  for (const fs::path& folder : folders) {
    CAPTURE(folder.string());
    names.insert(folder.filename().string());
    CHECK(fs::exists(folder / "README.md"));
    CHECK(files_with(folder, ".geo").size() + files_with(folder, ".py").size() == 1);
    CHECK(files_with(folder, ".msh").size() + files_with(folder, ".vtk").size() == 1);
    const auto case_files = files_with(folder, ".toml");
    CHECK_FALSE(case_files.empty());
    CHECK(files_with(folder, ".json").size() == case_files.size()); // none that no case reads
    for (const fs::path& case_file : case_files) {
      const Json expected = read_json(expected_file(case_file));
      CHECK_FALSE(expected.at("values").empty());
      for (const Json& value : expected.at("values")) {
        CHECK_FALSE(value.at("source").get<std::string>().empty());
      }
    }
  }
  const std::set<std::string> wanted = {
      "anisotropic-plate", "boat-plank",      "draped-dome",    "hatch-cover", "hemisphere",
      "orchard-cab-roof",  "peripheral-gate", "strip-with-cap", "tailboard",   "zones-in-series"};
  CHECK(std::includes(names.begin(), names.end(), wanted.begin(), wanted.end()));
}
