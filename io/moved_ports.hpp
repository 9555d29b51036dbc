// The text of a case with its gates moved, and other vents.
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

/// A vent likewise, at the nearest node.
struct NewVent {
  std::string name;
  Vector3 at;      // in the unit of the mesh
  double pressure; // gauge [Pa]
};

struct MovedPorts {
  std::vector<MovedGate> gates;      // in place of the case's; empty: those stay
  std::optional<std::string> radius; // with its unit; none: that of the case's first gate
  std::vector<NewVent> vents;        // in place of the case's; empty: those stay
};

/// The text of the case file `from` as it is to stand in a folder: other gates in place of the
/// case's, each with the drive of its first gate and open from the start; the mesh and the file of
/// fabrics called by their way from the folder. All else, comments too, stays as it is.
/// Precondition: text is a sound case.
std::string with_moved_ports(const std::string& text, const MovedPorts& ports,
                             const std::filesystem::path& from,
                             const std::filesystem::path& folder);

} // namespace tidemark
