// A mesh with points put on some of its edges, and the elements there divided to suit.
#pragma once

#include "mesh/shell_mesh.hpp"

#include <array>
#include <vector>

namespace tidemark {

/// A point on an edge of the triangulation (so it may be the diagonal of a quadrilateral).
struct EdgeSplit {
  std::array<NodeId, 2> edge;
  double share; // of the way from the first node to the second, 0 < share < 1
};

/// The node that split_edges adds on each split edge of a mesh of so many nodes.
class NodesOnEdges {
public:
  NodesOnEdges(const std::vector<EdgeSplit>& splits, std::size_t nodes);
  /// An invalid index if the edge is not split.
  [[nodiscard]] NodeId on(NodeId a, NodeId b) const;

private:
  struct Entry {
    std::array<NodeId, 2> edge;
    NodeId node;
  };
  std::vector<Entry> entries_;
  PerNode<bool> has_split_;
};

struct SplitMesh {
  ShellMesh mesh; // nodes as before, then those added in the order of the splits; no sets or arrays
  PerElement<ElementId> parent; // the element each element is (part of); ascending
};

/// Elements without a split edge stay as they are; the triangles of the others become one to four
/// each, in the same plane and turned the same way. A node added has the label of the nearer end,
/// the first if both are as near. Precondition: no edge is split twice.
SplitMesh split_edges(const ShellMesh& mesh, const std::vector<EdgeSplit>& splits);

} // namespace tidemark
