#include "io/output_folder.hpp"

#include "io/wording.hpp"
#include "io/written_files.hpp"
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
#include <utility>
#include <vector>

namespace tidemark {

namespace {

namespace fs = std::filesystem;

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

/// Whether a summary of tidemark lies there.
bool holds_summary_of_ours(const fs::path& folder) {
  std::error_code none;
  if (!fs::is_regular_file(folder / "summary.json", none)) {
    return false;
  }
  std::ifstream file(folder / "summary.json");
  const auto summary = nlohmann::json::parse(file, nullptr, false);
  const auto program = summary.is_object() ? summary.find("program") : summary.end();
  return program != summary.end() && program->is_string() &&
         program->get<std::string>().starts_with("tidemark ");
}

/// Sorted. Throws std::filesystem::filesystem_error.
std::vector<std::string> file_names(const fs::path& folder, NameTest is_meant) {
  std::vector<std::string> names;
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    std::error_code none;
    const std::string name = entry.path().filename().string();
    if (is_meant(name) && !entry.is_directory(none)) {
      names.push_back(name);
    }
  }
  std::ranges::sort(names);
  return names;
}

bool is_temporary_name(std::string_view name) {
  return is_own_name(name) && name.ends_with(".part");
}

/// Before there were lists, a filling left its summary as the only sign of itself.
bool is_of_older_filling(const fs::path& folder, const WrittenFiles& list) {
  return !list.contains("summary.json") && holds_summary_of_ours(folder);
}

/// Throws FileError.
void refuse_files_of_others(const fs::path& folder, NameTest is_ours) {
  const WrittenFiles list = written_files(folder);
  const bool is_older = is_of_older_filling(folder, list);
  std::vector<std::string> others;
  std::vector<std::string> changed;
  for (const std::string& name : file_names(folder, is_ours)) {
    const Origin origin = origin_of(folder / name, list);
    if (origin == Origin::changed) {
      changed.push_back(name);
    } else if (origin == Origin::other && !(is_older && is_output_name(name))) {
      others.push_back(name);
    }
  }
  if (others.empty() && changed.empty()) {
    return;
  }
  const auto it = [](std::size_t count) { return count == 1 ? "it" : "them"; };
  const std::string text =
      (others.empty() ? ""
                      : list_of(others) + ", not on the list of files tidemark wrote there (" +
                            written_list("").string() + ")") +
      (others.empty() || changed.empty() ? "" : ", and ") +
      (changed.empty() ? ""
                       : list_of(changed) + ", changed since tidemark wrote " + it(changed.size()));
  throw FileError(folder.string() + ": found " + text + "; this run would replace " +
                  it(others.size() + changed.size()) +
                  ": move or rename what you want to keep, remove the rest, or choose another "
                  "folder with -o");
}

/// A folder under a name of ours would stop the run when all is computed. Throws FileError.
void refuse_folders(const fs::path& folder, NameTest is_ours) {
  for (const fs::directory_entry& entry : fs::directory_iterator(folder)) {
    std::error_code none;
    const std::string name = entry.path().filename().string();
    if (is_ours(name) && entry.is_directory(none)) {
      throw FileError(
          (folder / name).string() +
          ": found a folder where this run may write a file: move, rename or remove it, "
          "or choose another folder with -o");
    }
  }
}

/// Errors of the file system as ours.
template <class Act> void act_in(const fs::path& folder, const Act& act) {
  try {
    act();
  } catch (const fs::filesystem_error& error) {
    fail(folder, "cannot be used as the output folder", error.code().message());
  }
}

/// The temporary file is gone when the user reads this.
std::string with_final_name(std::string text, const fs::path& temporary, const fs::path& file) {
  const std::size_t start = text.find(temporary.string());
  return start == std::string::npos ? text
                                    : text.replace(start, temporary.string().size(), file.string());
}

} // namespace

void replace_file(const fs::path& file, const std::function<void(const fs::path&)>& write) {
  const fs::path temporary = temporary_name(file);
  std::error_code none;
  if (!fs::is_directory(fs::symlink_status(temporary, none))) {
    fs::remove(temporary,
               none); // of a killed run, maybe another user's, which can only be replaced
  }
  try {
    write(temporary);
    note_written(file, temporary);
    std::error_code error;
    fs::rename(temporary, file, error);
    if (error) {
      fail(file, "cannot be written", error.message());
    }
  } catch (const FileError& error) {
    fs::remove(temporary, none);
    throw WriteError(with_final_name(error.what(), temporary, file), file.parent_path(),
                     fs::exists(written_list(file.parent_path()), none));
  } catch (...) {
    fs::remove(temporary, none);
    throw;
  }
}

void write_text_file(const fs::path& file, std::string_view text) {
  replace_file(file, [text](const fs::path& temporary) { write_bytes(temporary, text); });
}

bool is_output_name(std::string_view name) {
  const std::array<std::string_view, 9> fixed = {"summary.json", "history.csv",     "fill.vtu",
                                                 "report.html",  "front.pvd",       "fill-time.png",
                                                 "pressure.png", "last-places.png", "layout.png"};
  return std::ranges::find(fixed, name) != fixed.end() || is_frame_name(name);
}

bool is_comparison_name(std::string_view name) {
  return name == "compare.csv" || name == "compare.json" || name == "compare.html";
}

bool is_sheet_name(std::string_view name) {
  return name == sheet_markdown_name || name == sheet_html_name;
}

bool is_gates_name(std::string_view name) {
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
  const std::array<std::string_view, 5> fixed = {"vents.csv", "vents.json", "vents.html",
                                                 "vents.vtu", "with-vents.toml"};
  return std::ranges::find(fixed, name) != fixed.end();
}

bool is_window_name(std::string_view name) {
  return name == "window.csv" || name == "window.json" || name == "window.html";
}

bool is_scatter_name(std::string_view name) {
  return name == "scatter.csv" || name == "scatter.json" || name == "scatter.html" ||
         name == "scatter.vtu";
}

OutputFolder::OutputFolder(fs::path folder, NameTest is_ours, const std::string& what)
    : folder_(std::move(folder)), is_ours_(is_ours), lock_(folder_, what) {
  act_in(folder_, [this] {
    refuse_folders(folder_, is_ours_);
    refuse_files_of_others(folder_, is_ours_);
    for (const std::string& name : file_names(folder_, is_temporary_name)) {
      fs::remove(folder_ / name);
    }
  });
  begin_written_list(folder_);
}

OutputFolder::~OutputFolder() {
  try {
    end_written_list(folder_);
  } catch (const FileError&) { // then the list stays
  }
}

void OutputFolder::clear() const {
  act_in(folder_, [this] {
    for (const std::string& name : file_names(folder_, is_ours_)) {
      fs::remove(folder_ / name);
    }
  });
  forget_written(folder_, is_ours_);
}

bool has_filling(const fs::path& folder) {
  return holds_summary_of_ours(folder) ||
         std::ranges::any_of(written_files(folder),
                             [](const auto& file) { return is_output_name(file.first); });
}

} // namespace tidemark
