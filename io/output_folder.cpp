#include "io/output_folder.hpp"

#include "mesh/error.hpp"

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <string>
#include <system_error>
#include <vector>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

const std::string_view temporary_ending = ".part";

[[noreturn]] void fail(const fs::path& file, const std::string& what, const std::string& why) {
  throw FileError(file.string() + ": " + what + ": " + why);
}

void write_bytes(const fs::path& file, std::string_view text) {
  std::FILE* stream = std::fopen(file.c_str(), "wb");
  if (stream == nullptr) {
    fail(file, "cannot be written", std::strerror(errno));
  }
  const bool written = std::fwrite(text.data(), 1, text.size(), stream) == text.size();
  const int write_error = errno;
  const bool closed = std::fclose(stream) == 0; // a full disk may show only here
  if (!written || !closed) {
    fail(file, "cannot be written", std::strerror(written ? errno : write_error));
  }
}

/// front_0000.vtu to front_9999.vtu.
bool is_frame_name(std::string_view name) {
  const std::string_view start = "front_";
  const std::string_view ending = ".vtu";
  if (name.size() != start.size() + 4 + ending.size() || !name.starts_with(start) ||
      !name.ends_with(ending)) {
    return false;
  }
  return std::ranges::all_of(name.substr(start.size(), 4),
                             [](char c) { return c >= '0' && c <= '9'; });
}

std::string_view without_temporary_ending(std::string_view name) {
  return name.ends_with(temporary_ending) ? name.substr(0, name.size() - temporary_ending.size())
                                          : name;
}

using NameTest = bool (*)(std::string_view name);

void remove_files(const fs::path& folder, NameTest is_removed) {
  std::vector<fs::path> old_files;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    if (is_removed(entry.path().filename().string()) && !entry.is_directory()) {
      old_files.push_back(entry.path());
    }
  }
  for (const fs::path& file : old_files) {
    fs::remove(file);
  }
}

/// own_name: of a file that is written later; its temporary name is ours in any case.
void prepare(const fs::path& folder, NameTest is_removed, const std::string& own_name) {
  try {
    fs::create_directories(folder);
    if (!fs::is_directory(folder)) {
      fail(folder, "cannot be used as the output folder", "it is a file");
    }
    remove_files(folder, is_removed);
  } catch (const fs::filesystem_error& error) {
    fail(folder, "cannot be used as the output folder", error.code().message());
  }
  const fs::path trial = folder / (own_name + std::string(temporary_ending));
  write_bytes(trial, "");
  std::error_code ignored;
  fs::remove(trial, ignored);
}

} // namespace

void replace_file(const fs::path& file, const std::function<void(const fs::path&)>& write) {
  fs::path temporary = file;
  temporary += temporary_ending;
  std::error_code error;
  try {
    write(temporary);
  } catch (...) {
    fs::remove(temporary, error);
    throw;
  }
  fs::rename(temporary, file, error);
  if (error) {
    const std::string why = error.message();
    fs::remove(temporary, error);
    fail(file, "cannot be written", why);
  }
}

void write_text_file(const fs::path& file, std::string_view text) {
  replace_file(file, [text](const fs::path& temporary) { write_bytes(temporary, text); });
}

bool is_output_name(std::string_view name) {
  name = without_temporary_ending(name);
  const std::array<std::string_view, 4> fixed = {"summary.json", "history.csv", "fill.vtu",
                                                 "front.pvd"};
  return std::ranges::find(fixed, name) != fixed.end() || is_frame_name(name);
}

bool is_sheet_name(std::string_view name) {
  name = without_temporary_ending(name);
  return name == sheet_markdown_name || name == sheet_html_name;
}

void prepare_output_folder(const fs::path& folder) {
  prepare(folder, is_output_name, "summary.json");
}

void prepare_sheet_folder(const fs::path& folder) {
  prepare(folder, is_sheet_name, sheet_markdown_name);
}

} // namespace tidemark
