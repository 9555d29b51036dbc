// Findings about a mesh that a user should hear of before a filling is computed on it.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <cstdint>
#include <string>
#include <vector>

namespace tidemark {

enum class MeshFault {
  degenerate_element, // a corner repeated, or an area that is nothing against its longest side
  duplicate_element,  // the same corners as an earlier element
  folded,             // neighbours across an edge turned back on each other by more than 150 deg
  separate_piece,     // a connected piece other than the largest one
  unjoined_seam,      // two nodes at the same place with no element between: resin cannot cross
  unjoined_rim,       // a rim that lies on other elements: resin cannot cross
  solid_skin,         // closed and in two layers: perhaps no mid-surface
};

struct MeshFinding {
  MeshFault fault;
  bool is_error;                    // the filling cannot be computed on this mesh
  std::string text;                 // whole sentence with file labels and position, ready to print
  std::vector<std::int64_t> labels; // element labels of the mesh file; of nodes for a seam or rim
  Vector3 position;                 // [m]
};

/// Checks elements, edges and connection. Degenerate and duplicate elements are errors; folds,
/// separate pieces, unjoined seams and rims, and what may be the skin of a solid, are findings
/// only. One finding per kind names the first few places and counts the rest; each separate piece
/// has a finding of its own up to the tenth, with its distance from the nearest node of another if
/// that is less than its longest side. For a seam or a rim the labels are those of its nodes, not
/// of elements. Precondition: finite positions.
std::vector<MeshFinding> check_mesh(const ShellMesh& mesh);

/// Connected piece of every node, numbered from 0 in order of first node.
PerNode<int> connected_pieces(const ShellMesh& mesh);

} // namespace tidemark
