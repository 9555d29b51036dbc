// The command window: which flow rates and pressure caps are safe.
#pragma once

#include "io/case_runs.hpp"

#include <array>
#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

struct WindowOptions {
  std::filesystem::path case_file;
  std::optional<std::array<double, 2>> flow; // range tried [m3/s]; none: round the case's own
  std::optional<std::array<double, 2>> cap;  // gauge [Pa]; as above
  std::vector<std::string> temperatures;     // a map for each, as written; or
  std::vector<std::string> catalysts;        // a map for each of these
  std::optional<std::size_t> points;         // of each axis; none: 33 by the curve, 9 by full runs
  double tolerance = 0.005;                  // of a border, as a ratio
  std::optional<double> mould_margin;        // of the hold-down force, kept in hand [-]
  bool full_runs = false;                    // even where the curve would do
  int threads = 1;
  std::filesystem::path folder;
  RunOptions run;
};

/// Maps flow rate against pressure cap, from the resistance curve of one filling where the wet
/// shapes depend on the injected volume alone, else by full runs in parallel; writes window.json,
/// window.csv and, if wanted, window.html and prints the map. Nothing is written before the input
/// has been read and checked. Full runs are recorded in window.runs as they come, so that a command
/// that was cut off goes on where it was; the record is removed when all is done. Ctrl-C: what was
/// tried by then is written. The results do not depend on the number of threads. Throws InputError,
/// SolveError and FileError.
RunsEnd run_window(const WindowOptions& options);

} // namespace tidemark
