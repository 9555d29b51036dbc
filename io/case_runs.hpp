// What the commands do with one case.
#pragma once

#include "io/case_file.hpp"
#include "solver/filling.hpp"

#include <filesystem>
#include <vector>

namespace tidemark {

struct RunOptions {
  FillOptions fill;              // its time limit, if given, goes before that of the case
  int frames = 40;               // most frames of the front series; 0: none
  bool quiet = false;            // nothing on the terminal but errors
  bool cure_search = true;       // after a fill that gels too early, look for what would fill it
  bool json = false;             // the summary on standard output, and nothing else there
  std::vector<UsedValue> values; // the options that bear on the result, for the list of inputs
};

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
