// Rims that lie on other elements and are not joined to them, so that resin cannot cross.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <vector>

namespace tidemark {

/// A line along which two sides lie on each other without having their nodes in common.
struct UnjoinedRim {
  std::vector<NodeId> hanging; // rim nodes that lie on elements of which they are no corner
  double length = 0;           // of the line [m]; its two rims, if both sides end there, are one
  double gap = 0;              // largest distance of such a node from the other side [m]
};

/// Free edges that lie on other elements, sorted into lines that hang together. A node lies on an
/// element if it is nearer than 5 % of the least height of the triangles round the node, and of
/// the element it lies on: far more than rounding, and than a curve is away from its chords where
/// 16 of them make a circle, and far less than a slot as wide as the elements beside it, or than
/// anything that can be reached over the surface itself (one height). The nodes in `told` and the
/// elements in `left_out` count for nothing. O(n log n). Precondition: finite positions.
std::vector<UnjoinedRim> unjoined_rims(const ShellMesh& mesh, const PerElement<bool>& left_out,
                                       const PerNode<bool>& told);

} // namespace tidemark
