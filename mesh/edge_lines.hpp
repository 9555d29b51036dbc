// Lines along the edges of a mesh: its rim, the borders between regions, ways from node to node.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <array>
#include <span>
#include <vector>

namespace tidemark {

/// Edges at which one element ends alone, lower node first, ascending.
std::vector<std::array<NodeId, 2>> free_edges(const ShellMesh& mesh);

/// Edges that hang together.
struct JoinedEdges {
  std::vector<std::array<NodeId, 2>> edges; // in the order given
  bool is_closed = false;                   // every node is at exactly two of them
};

/// The edges sorted into pieces that hang together by their nodes, in the order of the first edge
/// of each. O(n log n).
std::vector<JoinedEdges> joined_edges(std::span<const std::array<NodeId, 2>> edges);

/// Edges at which an element of one region meets an element of another, lower node first,
/// ascending; at a T-joint any of the elements may be the one. Empty if the two regions are the
/// same.
std::vector<std::array<NodeId, 2>> edges_between(const ShellMesh& mesh,
                                                 const PerElement<RegionId>& element_region,
                                                 RegionId one, RegionId other);

/// The shortest way along mesh edges through the points in their order, each edge from the node
/// where the way comes from, in the order first gone along; an edge gone along twice is listed
/// once. Among ways equally long (to 1e-6) the one nearest to the straight line between two points
/// is taken, then the one with the lower nodes. Empty if there is no way, or fewer than two
/// different points. O(n log n) for each pair of points.
std::vector<std::array<NodeId, 2>> edge_path(const ShellMesh& mesh, std::span<const NodeId> points);

} // namespace tidemark
