#include "io/output_folder.hpp"

#include "io/wording.hpp"
#include "mesh/error.hpp"

#include <nlohmann/json.hpp>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstdio>
#include <cstring>
#include <fstream>
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

std::string_view without_temporary_ending(std::string_view name) {
  return name.ends_with(temporary_ending) ? name.substr(0, name.size() - temporary_ending.size())
                                          : name;
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

/// Whether the summary of an earlier run lies there.
bool holds_summary_of_ours(const fs::path& folder) {
  std::ifstream file(folder / "summary.json");
  const auto summary = nlohmann::json::parse(file, nullptr, false);
  const auto program = summary.is_object() ? summary.find("program") : summary.end();
  return program != summary.end() && program->is_string() &&
         program->get<std::string>().starts_with("tidemark ");
}

void remove_output_files(const fs::path& folder, bool (*is_ours)(std::string_view)) {
  std::vector<fs::path> old_files;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    if (is_ours(entry.path().filename().string()) && !entry.is_directory()) {
      old_files.push_back(entry.path());
    }
  }
  for (const fs::path& file : old_files) {
    fs::remove(file);
  }
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
  const std::array<std::string_view, 9> fixed = {"summary.json", "history.csv",     "fill.vtu",
                                                 "report.html",  "front.pvd",       "fill-time.png",
                                                 "pressure.png", "last-places.png", "layout.png"};
  return std::ranges::find(fixed, name) != fixed.end() || is_frame_name(name);
}

bool is_comparison_name(std::string_view name) {
  name = without_temporary_ending(name);
  return name == "compare.csv" || name == "compare.json" || name == "compare.html";
}

bool is_sheet_name(std::string_view name) {
  name = without_temporary_ending(name);
  return name == sheet_markdown_name || name == sheet_html_name;
}

bool is_gates_name(std::string_view name) {
  name = without_temporary_ending(name);
  const std::array<std::string_view, 5> fixed = {"gates.csv", "gates.json", "gates.html",
                                                 "gates.vtu", "places.csv"};
  const std::string_view start = "layout-";
  const std::string_view ending = ".toml";
  const bool is_layout =
      name.size() > start.size() + ending.size() && name.starts_with(start) &&
      name.ends_with(ending) &&
      std::ranges::all_of(name.substr(start.size(), name.size() - start.size() - ending.size()),
                          [](char c) { return c >= '0' && c <= '9'; });
  return is_layout || std::ranges::find(fixed, name) != fixed.end();
}

bool is_vents_name(std::string_view name) {
  name = without_temporary_ending(name);
  const std::array<std::string_view, 5> fixed = {"vents.csv", "vents.json", "vents.html",
                                                 "vents.vtu", "with-vents.toml"};
  return std::ranges::find(fixed, name) != fixed.end();
}

bool is_window_name(std::string_view name) {
  name = without_temporary_ending(name);
  return name == "window.csv" || name == "window.json" || name == "window.html";
}

void refuse_files_of_others(const fs::path& folder, bool was_broken_off) {
  std::vector<std::string> names;
  std::error_code none; // then there are none
  for (const fs::directory_entry& entry : fs::directory_iterator(folder, none)) {
    const std::string name = entry.path().filename().string();
    if (is_output_name(name) && !is_frame_name(without_temporary_ending(name)) &&
        !entry.is_directory(none)) {
      names.push_back(name);
    }
  }
  if (names.empty() || was_broken_off || holds_summary_of_ours(folder)) {
    return;
  }
  std::ranges::sort(names);
  throw FileError(folder.string() + ": found " + list_of(names) +
                  ", which this run would replace, and no summary.json of an earlier run of "
                  "tidemark beside: move what you want to keep, or choose another folder with -o");
}

void prepare_output_folder(const fs::path& folder, bool (*is_ours)(std::string_view)) {
  try {
    fs::create_directories(folder);
    if (!fs::is_directory(folder)) {
      fail(folder, "cannot be used as the output folder", "it is a file");
    }
    remove_output_files(folder, is_ours);
  } catch (const fs::filesystem_error& error) {
    fail(folder, "cannot be used as the output folder", error.code().message());
  }
  const fs::path trial = folder / "summary.json.part"; // a name that is ours in any case
  write_bytes(trial, "");
  std::error_code ignored;
  fs::remove(trial, ignored);
}

} // namespace tidemark
