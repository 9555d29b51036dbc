// The command `start`: a first case file for a mesh, written beside it.
#pragma once

#include <filesystem>
#include <optional>

namespace tidemark {

struct StartOptions {
  std::optional<std::filesystem::path> output; // none: the mesh's name with .toml, beside the mesh
  bool overwrite = false;                      // a file that is there already
  bool quiet = false;
};

/// Reads a mesh, writes a first case file for it and tells what is to be done with it. Throws
/// InputError if the mesh is wrong, or if its name cannot stand in a case file; FileError if it
/// cannot be read, if the case file is there already and may not be replaced, or cannot be written.
void run_start(const std::filesystem::path& mesh_file, const StartOptions& options);

} // namespace tidemark
