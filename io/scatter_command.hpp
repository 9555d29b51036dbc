// The command scatter: how sure a filling is when reinforcement and resin differ from part to part.
#pragma once

#include "io/case_runs.hpp"

#include <filesystem>
#include <optional>

namespace tidemark {

struct ScatterOptions {
  std::filesystem::path case_file;
  std::filesystem::path folder; // for scatter.json, scatter.csv, scatter.vtu, scatter.html
  std::optional<int> samples;   // else those of the case, or 200
  std::optional<int> seed;      // else that of the case, or 1
  double allowed = 0;         // pore volume that may stay dry in a part that counts as filled [m3]
  std::optional<int> threads; // fillings at once; else as many as cores
  RunOptions run;
};

/// The record of finished samples in the output folder, there until all are done.
inline constexpr const char* scatter_record_name = "scatter-runs.jsonl";

/// Fills the case as it is and with samples drawn, on threads, or on the processes of mpirun, which
/// each call it. Finished samples go to the record in the output folder, from which the same
/// command goes on after it was cut off. Then, or after Ctrl-C with what is done, it writes
/// scatter.json, scatter.csv, scatter.vtu and, if wanted, scatter.html and prints what they say. A
/// sample that cannot be computed is recorded with the reason. The files do not depend on the
/// number of threads or processes. Ends as some_short too if not all samples are done; the
/// processes but the leader as_wished, since it tells. Throws InputError, also if the record
/// belongs to other input, and FileError, by one process of a team only.
RunsEnd run_scatter(const ScatterOptions& options);

} // namespace tidemark
