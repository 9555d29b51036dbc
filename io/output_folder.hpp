// The folder a run writes to, and files in it that are whole or not there at all.
#pragma once

#include "io/folder_lock.hpp"
#include "mesh/error.hpp"

#include <filesystem>
#include <functional>
#include <string>
#include <string_view>
#include <utility>

namespace tidemark {

/// A file could not be written: the message names it as it would be called in the end.
class WriteError : public FileError {
public:
  WriteError(const std::string& what, std::filesystem::path folder, bool is_of_a_run)
      : FileError(what), folder_(std::move(folder)), is_of_a_run_(is_of_a_run) {}
  [[nodiscard]] const std::filesystem::path& folder() const { return folder_; }
  /// Whether it would be one of the files of a run (OutputFolder), which then are not complete.
  [[nodiscard]] bool is_of_a_run() const { return is_of_a_run_; }

private:
  std::filesystem::path folder_;
  bool is_of_a_run_;
};

/// Has write put its content into a temporary file beside file, then renames that to file, so that
/// nobody ever sees half a file; and puts it on the list of its folder, if that has one. The
/// temporary file is removed if write throws. Throws WriteError if write throws a FileError or the
/// renaming fails.
void replace_file(const std::filesystem::path& file,
                  const std::function<void(const std::filesystem::path& temporary)>& write);

/// Writes a text file by replace_file. Throws WriteError.
void write_text_file(const std::filesystem::path& file, std::string_view text);

/// Whether a command gives a file of its output folder this name.
using NameTest = bool (*)(std::string_view name);

/// Of a filling: summary.json, history.csv, fill.vtu, report.html, front.pvd, front_0000.vtu to
/// front_9999.vtu, the pictures fill-time.png, pressure.png, last-places.png and layout.png.
bool is_output_name(std::string_view name);

/// Of a comparison: compare.csv, compare.json, compare.html.
bool is_comparison_name(std::string_view name);

/// Of a search of gates: gates.csv, gates.json, gates.html, gates.vtu, places.csv, layout-N.toml.
/// (The record of each of these commands stays, to go on from.)
bool is_gates_name(std::string_view name);

/// Of a look at vents: vents.csv, vents.json, vents.html, vents.vtu, with-vents.toml.
bool is_vents_name(std::string_view name);

/// Of a process window: window.csv, window.json, window.html.
bool is_window_name(std::string_view name);

/// Of a scatter: scatter.csv, scatter.json, scatter.html, scatter.vtu.
bool is_scatter_name(std::string_view name);

inline constexpr const char* sheet_markdown_name = "setup-sheet.md";
inline constexpr const char* sheet_html_name = "setup-sheet.html";

/// Of a sheet for the operator.
bool is_sheet_name(std::string_view name);

/// The folder a command writes to, held for one run. One rule for all commands: a run replaces the
/// files under its names that tidemark wrote and nobody changed since, as the list in the folder
/// tells (io/written_files), and refuses to begin where others lie.
class OutputFolder {
public:
  /// Creates the folder where it is missing and holds it (FolderLock) until the end. Removes
  /// halves of files that a killed run left, nothing else. what: "fill roof.toml". Throws FileError
  /// if another run holds it, nothing can be written there, or it has files under names of this
  /// command that tidemark did not write or that were changed since.
  OutputFolder(std::filesystem::path folder, NameTest is_ours, const std::string& what);
  OutputFolder(const OutputFolder&) = delete;
  OutputFolder& operator=(const OutputFolder&) = delete;
  ~OutputFolder();

  /// Removes what earlier runs left under names of this command, so that nobody takes it for this
  /// run's. Throws FileError.
  void clear() const;

private:
  std::filesystem::path folder_;
  NameTest is_ours_;
  FolderLock lock_;
};

/// Whether a filling of tidemark wrote to a folder, by its list or the summary there. Throws
/// FileError.
bool has_filling(const std::filesystem::path& folder);

} // namespace tidemark
