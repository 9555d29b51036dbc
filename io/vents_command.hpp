// The command vents: where vents must be, which can be spared, and how far each may move.
#pragma once

#include "io/case_runs.hpp"

#include <filesystem>
#include <optional>

namespace tidemark {

struct VentsOptions {
  std::filesystem::path case_file;
  bool own = false;            // look at the case's own vents instead of seeking
  std::optional<double> reach; // vents are moved up to so far [m]; none: a quarter of the part
  double allowed = 0;          // pore volume that may stay dry with a vent moved or left out [m3]
  int threads = 1;
  std::filesystem::path folder;
  RunOptions run;
};

/// Seeks vents for the gates of the case, or takes its own; fills without each of them, and with
/// each moved away. All air without a vent is shut in. Writes vents.csv, vents.json, vents.vtu and,
/// with vents that were sought, with-vents.toml, and prints the table. Nothing is written before
/// the input has been read and checked. Ctrl-C: what was run by then is written; the same command
/// then goes on from there, by the record vents.runs. The results do not depend on the number of
/// threads. A trial that fails does not keep the others from running. Throws InputError, SolveError
/// and FileError.
RunsEnd run_vents(const VentsOptions& options);

} // namespace tidemark
