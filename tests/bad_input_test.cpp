// One good case with one thing broken per file, and beside it the whole message it must bring.
#include "io/case_file.hpp"
#include "mesh/error.hpp"

#include <doctest/doctest.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

using namespace tidemark;

namespace {

using std::filesystem::path;

path folder_of(const char* name) {
  return path(TIDEMARK_SOURCE_DIR) / "tests/bad_input" / name;
}

std::vector<path> case_files(const path& folder) {
  std::vector<path> files;
  for (const auto& entry : std::filesystem::directory_iterator(folder)) {
    if (entry.path().extension() == ".toml") {
      files.push_back(entry.path());
    }
  }
  std::ranges::sort(files);
  return files;
}

std::string content_of(const path& file) {
  std::ifstream stream(file, std::ios::binary);
  std::ostringstream text;
  text << stream.rdbuf();
  return text.str();
}

/// The messages with file names relative to the folder of the case.
std::string without_folder(std::string text, const path& folder) {
  const std::string prefix = folder.string() + "/";
  for (auto at = text.find(prefix); at != std::string::npos; at = text.find(prefix)) {
    text.erase(at, prefix.size());
  }
  return text;
}

std::string lines_of(const std::vector<std::string>& lines) {
  std::string text;
  for (const std::string& line : lines) {
    text += line + "\n";
  }
  return text;
}

/// What reading the case says: its errors, or its warnings if it is accepted.
std::string messages_of(const path& file) {
  try {
    return lines_of(read_case(file).warnings);
  } catch (const InputError& error) {
    return lines_of(error.findings());
  } catch (const FileError& error) {
    return std::string("FileError: ") + error.what() + "\n";
  }
}

void check_folder(const char* name) {
  const path folder = folder_of(name);
  for (const path& file : case_files(folder)) {
    CAPTURE(file.filename().string());
    path expected = file;
    expected.replace_extension(".expected");
    REQUIRE(std::filesystem::exists(expected));
    CHECK(without_folder(messages_of(file), folder) == content_of(expected));
  }
}

} // namespace

TEST_CASE("each broken case brings its message") {
  CHECK(case_files(folder_of("case")).size() >= 430);
  check_folder("case");
}

TEST_CASE("each doubtful case is accepted with its warning") {
  for (const path& file : case_files(folder_of("doubtful"))) {
    CAPTURE(file.filename().string());
    CHECK_NOTHROW(read_case(file));
  }
  CHECK(case_files(folder_of("doubtful")).size() >= 60);
  check_folder("doubtful");
}
