#include "io/mesh_pieces.hpp"

#include "mesh/mesh_check.hpp"

#include <algorithm>

namespace tidemark {

namespace {

std::vector<MeshPiece> pieces_of(const FillProblem& problem, const PerNode<int>& piece_of) {
  std::vector<MeshPiece> pieces;
  for (const NodeId node : piece_of.ids()) {
    const auto index = static_cast<std::size_t>(piece_of[node]);
    pieces.resize(std::max(pieces.size(), index + 1));
    pieces[index].first = pieces[index].nodes == 0 ? node : pieces[index].first;
    ++pieces[index].nodes;
  }
  for (const Gate& gate : problem.gates) {
    for (const NodeId node : gate.nodes) {
      pieces[static_cast<std::size_t>(piece_of[node])].has_gate = true;
    }
  }
  return pieces;
}

} // namespace

std::vector<MeshPiece> mesh_pieces(const FillProblem& problem) {
  return pieces_of(problem, connected_pieces(problem.mesh));
}

std::vector<bool> dry_spots_with_gate(const FillProblem& problem, const FillResult& result) {
  std::vector<bool> have_gate(result.dry_spots.size(), true);
  if (have_gate.empty()) {
    return have_gate;
  }
  const PerNode<int> piece_of = connected_pieces(problem.mesh);
  const std::vector<MeshPiece> pieces = pieces_of(problem, piece_of);
  // A spot lies at a node of its own. Where nodes of two pieces coincide, it counts to the one with
  // the gate.
  std::vector<bool> is_known(have_gate.size(), false);
  for (const NodeId node : piece_of.ids()) {
    const bool has_gate = pieces[static_cast<std::size_t>(piece_of[node])].has_gate;
    for (std::size_t i = 0; i < have_gate.size(); ++i) {
      if (result.dry_spots[i].position == problem.mesh.positions[node]) {
        have_gate[i] = has_gate || (is_known[i] && have_gate[i]);
        is_known[i] = true;
      }
    }
  }
  return have_gate;
}

} // namespace tidemark
