// What one mesh format's reader hands to the work shared by all formats (see mesh_reader).
#pragma once

#include "mesh/shell_mesh.hpp"

#include <string>
#include <utility>
#include <vector>

namespace tidemark {

/// A mesh as its file has it: coordinates in the file's unit, nodes no element uses still there.
struct MeshContent {
  ShellMesh mesh;
  std::vector<std::string> notes;
  std::vector<NodeId> mid_side_nodes;    // of second-order elements, any order, with repeats
  std::size_t second_order_elements = 0; // surface elements that lost their mid-side nodes
};

} // namespace tidemark
