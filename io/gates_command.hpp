// The command gates: where on the part the gates fill it best.
#pragma once

#include "io/case_runs.hpp"
#include "io/gate_places.hpp"

#include <cstddef>
#include <filesystem>
#include <optional>
#include <string>

namespace tidemark {

struct GatesOptions {
  std::filesystem::path case_file;
  PlaceChoice choice;
  std::optional<std::string> radius_text; // of choice.radius, as it was given
  std::size_t count = 1;                  // gates of a layout, 1 to 3
  std::size_t best = 5;                   // layouts to be run in full
  std::optional<double> apart; // of layouts [m]; none: a tenth of the part, 0 with given points
  bool vents = false;          // seek the vents of each
  int threads = 1;
  std::filesystem::path folder;
  RunOptions run;
};

/// Ranks all places by the theorem of gate_ranking, runs the case in full as it is and with the
/// best layouts, writes gates.csv, gates.json, places.csv, gates.vtu and a case file for each
/// layout, and prints the tables. Nothing is written before the input has been read and checked.
/// Ctrl-C: what was ranked and run by then is written. Full runs, and those in search of vents, are
/// recorded in gates.runs as they come, so that a command that was cut off goes on where it was;
/// the record is removed when all is done. The results do not depend on the number of threads, nor
/// on where it was cut off. Throws InputError, SolveError and FileError.
RunsEnd run_gates(const GatesOptions& options);

} // namespace tidemark
