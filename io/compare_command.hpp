// The command compare: several cases, or alternatives of one case, side by side.
#pragma once

#include "io/case_runs.hpp"

#include <filesystem>
#include <string>
#include <vector>

namespace tidemark {

struct CompareOptions {
  std::vector<std::filesystem::path> cases; // one with alternatives, or several
  std::vector<std::string> alternatives;    // texts of --try
  std::filesystem::path folder;             // for compare.csv and compare.json
  int threads = 1;                          // at most so many runs at once
  bool files = false;                       // each run's files too, in run-1, run-2, ... there
  RunOptions run;                           // of each; json and quiet of the whole
};

/// Runs what is to be compared, in parallel, writes compare.csv and compare.json and prints the
/// tables. All input is read and checked before anything runs or is written: throws InputError or
/// FileError with the errors of all of them. A run whose computation fails is recorded as that and
/// the others go on; so are runs that are interrupted. The figures do not depend on the number of
/// threads. Throws FileError if the files of the comparison cannot be written.
RunsEnd run_compare(const CompareOptions& options);

} // namespace tidemark
