// A problem on a finer mesh than the user's, whose answers come back on the user's nodes.
#pragma once

#include "mesh/edge_split.hpp"
#include "solver/filling.hpp"

#include <vector>

namespace tidemark {

struct RefinedProblem {
  FillProblem problem;           // its first nodes are those of the problem it was made from
  std::size_t nodes = 0;         // how many these are
  std::vector<NodeId> stand_ins; // of each node added, one of them nearby

  /// The node itself, or what stands in for one that was added.
  [[nodiscard]] NodeId users_node(NodeId node) const;
};

/// Nothing divided yet.
RefinedProblem undivided(const FillProblem& problem);

/// Puts points on edges of the triangulation and divides the elements there. A channel along a
/// split edge goes on in two segments, and a point between two nodes of a gate or a vent belongs to
/// it. Precondition: no edge is split twice.
void divide(RefinedProblem& refined, const std::vector<EdgeSplit>& splits);

/// The report or result of the refined problem for the nodes of the other.
FillWatcher on_users_nodes(const FillWatcher& watcher, const RefinedProblem& refined);
FillResult on_users_nodes(FillResult result, const RefinedProblem& refined);

} // namespace tidemark
