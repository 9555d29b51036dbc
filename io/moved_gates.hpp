// The text of a case with its gates moved.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <filesystem>
#include <optional>
#include <string>
#include <vector>

namespace tidemark {

/// A gate as it is to stand in the case.
struct MovedGate {
  std::string name;
  Vector3 at; // in the unit of the mesh
};

/// The text of the case file `from` as it is to stand in a folder: other gates in place of the
/// case's, each with the drive of its first gate and open from the start; the mesh and the file of
/// fabrics called by their way from the folder. All else, comments too, stays as it is. radius: as
/// text with its unit, or none: that of the first gate. Precondition: text is a sound case.
std::string with_moved_gates(const std::string& text, const std::vector<MovedGate>& gates,
                             const std::optional<std::string>& radius,
                             const std::filesystem::path& from,
                             const std::filesystem::path& folder);

} // namespace tidemark
