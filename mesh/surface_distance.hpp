// Distances along the surface, also counted in elements, and points spread over it.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <cstddef>
#include <limits>
#include <span>
#include <vector>

namespace tidemark {

/// What distances along the surface are found by: the straight ways there are at once (edges, and
/// both diagonals of quadrilaterals), and the triangles round each node.
struct SurfaceGraph {
  /// A triangle as seen from one of its corners.
  struct Corner {
    NodeId left, right;       // the other two
    double to_left, to_right; // lengths of its sides [m]
    double from_left_to_right;
  };

  std::vector<std::size_t> first; // ways from node i: first[i] .. first[i + 1]
  std::vector<NodeId> neighbour;
  std::vector<double> length;            // [m]
  std::vector<std::size_t> first_corner; // triangles at node i, alike
  std::vector<Corner> corners;
};

SurfaceGraph surface_graph(const ShellMesh& mesh);

/// Distance along the surface from the nearest of some nodes [m], infinite where there is no way or
/// it is longer than limit. A front goes out from the nodes and is led on over the triangles
/// (Kimmel & Sethian 1998), from two corners to the third by the circle round the point from which
/// it seems to come, laid flat (Novotni & Klein 2002), or behind a straight front where two nodes
/// send it. Exact, whatever the mesh, where the shortest way lies on pieces that unroll into a
/// plane and from one node: on a flat convex part, on a cylinder. Round holes and inner corners, on
/// doubly curved parts and where fronts meet it is off by a share of a cell, to either side. O(n
/// log n).
PerNode<double> distances_from(const SurfaceGraph& graph, std::span<const NodeId> from,
                               double limit = std::numeric_limits<double>::infinity());

/// Of the nodes that can be reached from some over elements, the largest number of elements passed
/// on the way that passes fewest; 0 without a node to start from. O(n).
std::size_t elements_on_longest_way(const ShellMesh& mesh, std::span<const NodeId> from);

/// Some of the nodes, spread evenly: the first, then always the one farthest (in a straight line)
/// from all taken so far, until none is farther than spacing [m] or there are `most`. So each
/// beginning of the list is spread evenly too. O(n most).
std::vector<NodeId> spread_out(const ShellMesh& mesh, std::span<const NodeId> nodes, double spacing,
                               std::size_t most);

} // namespace tidemark
