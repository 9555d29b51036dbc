// The pieces of a mesh that do not hang together, and where resin can come at all.
#pragma once

#include "solver/filling.hpp"

#include <cstddef>
#include <vector>

namespace tidemark {

struct MeshPiece {
  NodeId first; // in the order of the mesh
  std::size_t nodes = 0;
  bool has_gate = false;
};

/// In the order of their first nodes.
std::vector<MeshPiece> mesh_pieces(const FillProblem& problem);

/// Whether a gate is on the same piece of the mesh, for each dry place of a result.
std::vector<bool> dry_spots_with_gate(const FillProblem& problem, const FillResult& result);

} // namespace tidemark
