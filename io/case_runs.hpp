// What the commands do with one case.
#pragma once

#include "io/case_file.hpp"
#include "io/output_folder.hpp"
#include "io/pictures.hpp"
#include "solver/cure_search.hpp"
#include "solver/filling.hpp"

#include <chrono>
#include <cstddef>
#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace tidemark {

struct RunOptions {
  FillOptions fill;              // its time limit, if given, goes before that of the case
  int frames = 40;               // most frames of the front series; 0: none
  bool quiet = false;            // nothing on the terminal but errors
  bool cure_search = true;       // after a fill that gels too early, look for what would fill it
  bool report = true;            // report.html among the files
  bool json = false;             // the summary on standard output, and nothing else there
  bool has_pictures = true;      // of fill
  PictureOptions pictures = {};  // how they look
  std::vector<UsedValue> values; // the options that bear on the result, for the list of inputs
};

/// Reads a case, with values tried in place of those written or without. Everything that can be
/// wrong is found here, before the first file is touched. Throws InputError, FileError.
Case read_checked(const std::filesystem::path& case_file, const CaseEdit* edit = nullptr);

/// The case as the options of the run make it.
Case with_options(Case input, const RunOptions& options);

/// What the fillings of a case run with: the options of the run, and the time limit of the case.
FillOptions fill_options(const Case& input, const RunOptions& options);

/// Throws InputError if one of the case's files lies in the folder under a name a run writes, as
/// told by is_ours.
void keep_inputs_safe(const Case& input, const std::filesystem::path& folder,
                      NameTest is_ours = is_output_name);

/// How a command that runs several fillings ends; each stands for an exit code.
enum class RunsEnd { as_wished, some_short, some_failed, not_written };

struct WrittenFill {
  FillResult result;
  std::optional<CureSearch> search; // after a gel that came too early
  std::string summary;              // as in summary.json
  std::size_t frames = 0;           // of the front
};

/// Fills, shows the progress unless quiet, heeds Ctrl-C and writes the files of the run to a folder
/// that has been prepared. Throws SolveError (the history and frames of the steps done are written
/// all the same) and FileError. since: what the wall time is told from.
WrittenFill
fill_and_write(const Case& input, const std::filesystem::path& folder, const RunOptions& options,
               std::chrono::steady_clock::time_point since = std::chrono::steady_clock::now());

/// To standard output. Throws FileError.
void print(const std::string& text);

/// Fills the part of a case file and writes the files of the run to a folder. Returns true if the
/// part fills. Nothing is created before the input has been read and checked. Throws InputError,
/// SolveError (the history and frames of the steps done are written all the same) and FileError.
bool run_fill(const std::filesystem::path& case_file, const std::filesystem::path& folder,
              const RunOptions& options);

/// Fills the part of a case file, and if it fills twice more for the bands, and writes the sheet
/// for the operator of the injector to a folder. Returns true if the part fills. Throws as
/// run_fill.
bool run_sheet(const std::filesystem::path& case_file, const std::filesystem::path& folder,
               const RunOptions& options);

/// Reads and checks a case and prints what it holds; writes no files. Throws InputError, FileError.
void run_check(const std::filesystem::path& case_file, bool quiet);

} // namespace tidemark
