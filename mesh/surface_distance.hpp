// Distances along the surface, and points spread over it.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <cstddef>
#include <limits>
#include <span>
#include <vector>

namespace tidemark {

/// Short straight ways on the surface: all edges, the diagonals of quadrilaterals, and from a
/// corner of a triangle across the opposite edge to the corner beyond, where the straight line in
/// the two triangles, laid flat, passes through that edge.
struct SurfaceGraph {
  std::vector<std::size_t> first; // ways from node i: first[i] .. first[i + 1]
  std::vector<NodeId> neighbour;
  std::vector<double> length; // [m]
};

SurfaceGraph surface_graph(const ShellMesh& mesh);

/// Length of the shortest chain of such ways from the nearest of some nodes [m], infinite where
/// there is none or it is longer than limit. Never too short; on a regular mesh too long by up to
/// about 8 %. (Dijkstra 1959, Numer. Math. 1:269.)
PerNode<double> distances_from(const SurfaceGraph& graph, std::span<const NodeId> from,
                               double limit = std::numeric_limits<double>::infinity());

/// Some of the nodes, spread evenly: the first, then always the one farthest (in a straight line)
/// from all taken so far, until none is farther than spacing [m] or there are `most`. So each
/// beginning of the list is spread evenly too. O(n most).
std::vector<NodeId> spread_out(const ShellMesh& mesh, std::span<const NodeId> nodes, double spacing,
                               std::size_t most);

} // namespace tidemark
