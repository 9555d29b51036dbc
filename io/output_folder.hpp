// The folder a run writes to, and files in it that are whole or not there at all.
#pragma once

#include <filesystem>
#include <functional>
#include <string_view>

namespace tidemark {

/// Has write put its content into a temporary file beside file, then renames that to file, so that
/// nobody ever sees half a file. The temporary file is removed if write throws. Throws FileError
/// if the renaming fails.
void replace_file(const std::filesystem::path& file,
                  const std::function<void(const std::filesystem::path& temporary)>& write);

/// Writes a text file by replace_file. Throws FileError.
void write_text_file(const std::filesystem::path& file, std::string_view text);

/// Whether a run gives a file of its output folder this name: summary.json, history.csv, fill.vtu,
/// report.html, front.pvd, front_0000.vtu to front_9999.vtu, the pictures fill-time.png,
/// pressure.png, last-places.png and layout.png, or the temporary name of one of these.
bool is_output_name(std::string_view name);

/// The same for a comparison: compare.csv, compare.json.
bool is_comparison_name(std::string_view name);

/// The same for a search of gates: gates.csv, gates.json, gates.vtu, places.csv, layout-N.toml.
bool is_gates_name(std::string_view name);

/// The same for a look at vents: vents.csv, vents.json, vents.html, vents.vtu, with-vents.toml.
bool is_vents_name(std::string_view name);

/// The same for a process window: window.csv, window.json. (window.runs stays, to go on from.)
bool is_window_name(std::string_view name);

/// Creates the folder where it is missing, tries whether a file can be written in it and removes
/// what an earlier run left there, as told by is_ours: nothing else is touched. Throws FileError.
void prepare_output_folder(const std::filesystem::path& folder,
                           bool (*is_ours)(std::string_view name) = is_output_name);

/// Throws FileError, naming the files, if the folder holds files under names of a filling that no
/// run of this program can have left there: neither its summary.json nor the sign of a run that
/// broke off (was_broken_off) is there. Frames of the front have names nobody else gives.
void refuse_files_of_others(const std::filesystem::path& folder, bool was_broken_off);

inline constexpr const char* sheet_markdown_name = "setup-sheet.md";
inline constexpr const char* sheet_html_name = "setup-sheet.html";

/// Whether it is the name of a sheet for the operator, or its temporary name.
bool is_sheet_name(std::string_view name);

} // namespace tidemark
